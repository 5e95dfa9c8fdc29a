/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sound settings that may be meant otherwise, and exactly what is told about them. */
#include "conf/notes.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "tests/unit/conf/parsed.h"

/* What the plant is told as it is: it has limits for pyrometers that it lacks. */
#define EXIT_TOP                                                                    \
	"limits exit_top_c: no line has a channel of role surface_top: they judge " \
	"nothing\n"
#define RECIPES                                                                       \
	"line a has no channel of role recipe: limits for a recipe count there only " \
	"while 'evensoak context recipe' says which one runs\n"

enum { TOLD = 4096 };

static void
take(void *arg, const char *sentence)
{
	char *told = arg;
	size_t length = strlen(told);

	snprintf(told + length, TOLD - length, "%s\n", sentence);
}

/* The notes on the plant with one change. */
static void
expect(const char *from, const char *to, const char *told)
{
	struct settings *settings = parsed_with(from, to);
	char all[TOLD] = "";

	notes_tell(settings, take, all);
	assert_string_equal(all, told);
	settings_free(settings);
}

static void
what_cannot_be_meant_otherwise_is_not_told(void **state)
{
	struct settings *settings = settings_load("conf/demo.ini", &problems);
	char all[TOLD] = "";

	(void)state;
	assert_non_null(settings);
	notes_tell(settings, take, all);
	assert_string_equal(
	    all, "there is no [store]: shots are kept in the ledger alone\n");
	settings_free(settings);
}

static void
addresses_as_a_manual_writes_them_are_told_once(void **state)
{
	(void)state;
	expect("address = 20\n", "address = 40021\n",
	    "channel plc.tool_1 and 3 more of its device: address 40021 in table "
	    "holding; a manual's register 40001 is address 0 here, counted as on the "
	    "wire\n" EXIT_TOP RECIPES);
	expect("table = discrete\naddress = 0\n", "table = discrete\naddress = 10001\n",
	    "channel plc.rotating: address 10001 in table discrete; a manual's input "
	    "10001 is address 0 here, counted as on the wire\n" EXIT_TOP RECIPES);
	expect("table = holding\naddress = 20\n", "table = input\naddress = 39990\n",
	    "channel plc.tool_1 and 3 more of its device: address 39990 in table "
	    "input; a manual's register 30001 is address 0 here, counted as on the "
	    "wire\n" EXIT_TOP RECIPES);
	/* a number that a manual would write for another table */
	expect("address = 20\n", "address = 30001\n", EXIT_TOP RECIPES);
	expect("address = 20\n", "address = 39990\n", EXIT_TOP RECIPES);
	expect("address = 20\n", "address = 50000\n", EXIT_TOP RECIPES);
}

static void
limits_that_no_line_can_be_judged_by_are_told(void **state)
{
	(void)state;
	expect("count = 4", "count = 1",
	    EXIT_TOP "limits tool_spread_of_means_dc: no line has two channels of role "
		     "tool: they judge nothing\n" RECIPES);
	expect("[store plant]",
	    "[limits sag_s]\nupper = 180 s\n[limits energy_kwh]\nupper = 4 kWh\n"
	    "[limits water_rise_dc]\nupper = 4 K\n[limits heat_s]\nupper = 180 s\n"
	    "[store plant]",
	    "limits sag_s: no line has a channel of role sag_eye: they judge "
	    "nothing\n" EXIT_TOP
	    "limits energy_kwh: no line has a channel of role zone_top or zone_bottom "
	    "with 'rated_kw': they judge nothing\n"
	    "limits water_rise_dc: no line has a channel of role water_return: they "
	    "judge nothing\n" RECIPES);
	expect("[material abs]",
	    "[channel plc.top]\nrole = surface_top\ntable = input\naddress = 0\n"
	    "type = int16\nunit = C\n"
	    "[channel plc.recipe]\nrole = recipe\ntable = input\naddress = 9\n"
	    "type = uint16\n[material abs]",
	    "");
}

static void
a_plant_without_shifts_or_stores_is_told(void **state)
{
	char *text = plant_with("[shift early]\nstart = 06:00\nend = 14:00\n"
				"[shift night]\nstart = 22:00\nend = 06:00\n",
	    "");
	char all[TOLD] = "";

	(void)state;
	*strstr(text, "[store plant]") = '\0';
	struct settings *settings = parsed(text);
	notes_tell(settings, take, all);
	assert_string_equal(all, EXIT_TOP RECIPES
	    "there is no [shift]: reports are by day\n"
	    "there is no [store]: shots are kept in the ledger alone\n");
	settings_free(settings);
	free(text);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_cannot_be_meant_otherwise_is_not_told),
	    cmocka_unit_test(addresses_as_a_manual_writes_them_are_told_once),
	    cmocka_unit_test(limits_that_no_line_can_be_judged_by_are_told),
	    cmocka_unit_test(a_plant_without_shifts_or_stores_is_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
