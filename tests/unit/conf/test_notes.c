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

#include "tests/unit/conf/machines.h"
#include "tests/unit/conf/parsed.h"

/* What the plant is told as it is: how its sheets are followed, and that it has limits
 * for pyrometers that it lacks. */
#define INDEXES                                                                  \
	"line a has no channel of role cycle_count: an index between two polls " \
	"goes unseen, and a stop in the middle of one counts as two; where the " \
	"frames stop on the way, write 'debounce_ms' for rotating\n"
#define RETURNS                                                                    \
	"line a has no channel of role sheet_at_load: an empty frame counts as a " \
	"sheet, and a sheet that is heated again as a new one\n"
#define FOLLOWED INDEXES RETURNS
#define EXIT_TOP                                                                    \
	"limits exit_top_c: no line has a channel of role surface_top: they judge " \
	"nothing\n"
#define RECIPES                                                                       \
	"line a has no channel of role recipe: limits for a recipe count there only " \
	"while 'evensoak context recipe' says which one runs\n"

enum { TOLD = 4096 };

static void
take_all(void *arg, const char *sentence)
{
	char *told = arg;
	size_t length = strlen(told);

	snprintf(told + length, TOLD - length, "%s\n", sentence);
}

/* What is about the inside of the sheets has tests of its own. */
static void
take(void *arg, const char *sentence)
{
	if (!strstr(sentence, ": core_heat_end_c and what comes of it are absent"))
		take_all(arg, sentence);
}

/* The notes on a sound text with one change. */
static void
expect_in(const char *sound, const char *from, const char *to, const char *told)
{
	struct settings *settings = parsed_from(sound, from, to);
	char all[TOLD] = "";

	notes_tell(settings, take, all);
	assert_string_equal(all, told);
	settings_free(settings);
}

static void
expect(const char *from, const char *to, const char *told)
{
	expect_in(plant, from, to, told);
}

static void
what_cannot_be_meant_otherwise_is_not_told(void **state)
{
	static const char *const examples[] = {"conf/demo.ini",
	    "conf/rotary-two-ovens.ini", "conf/rotary-unload.ini", "conf/shuttle.ini",
	    "conf/shuttle-two-sides.ini", "conf/single-station.ini",
	    "conf/serial-line.ini"};

	(void)state;
	for (size_t i = 0; i < sizeof examples / sizeof examples[0]; i++) {
		struct settings *settings = settings_load(examples[i], &problems);
		char all[TOLD] = "";

		assert_non_null(settings);
		notes_tell(settings, take_all, all);
		assert_string_equal(
		    all, "there is no [store]: shots are kept in the ledger alone\n");
		settings_free(settings);
	}
}

static void
addresses_as_a_manual_writes_them_are_told_once(void **state)
{
	(void)state;
	expect("address = 20\n", "address = 40021\n",
	    "channel plc.tool_1 and 3 more of its device: address 40021 in table "
	    "holding; a manual's register 40001 is address 0 here, counted as on the "
	    "wire\n" FOLLOWED EXIT_TOP RECIPES);
	expect("table = discrete\naddress = 0\n", "table = discrete\naddress = 10001\n",
	    "channel plc.rotating: address 10001 in table discrete; a manual's input "
	    "10001 is address 0 here, counted as on the wire\n" FOLLOWED EXIT_TOP
		RECIPES);
	expect("table = holding\naddress = 20\n", "table = input\naddress = 39990\n",
	    "channel plc.tool_1 and 3 more of its device: address 39990 in table "
	    "input; a manual's register 30001 is address 0 here, counted as on the "
	    "wire\n" FOLLOWED EXIT_TOP RECIPES);
	/* a number that a manual would write for another table */
	expect("address = 20\n", "address = 30001\n", FOLLOWED EXIT_TOP RECIPES);
	expect("address = 20\n", "address = 39990\n", FOLLOWED EXIT_TOP RECIPES);
	expect("address = 20\n", "address = 50000\n", FOLLOWED EXIT_TOP RECIPES);
}

static void
limits_that_no_line_can_be_judged_by_are_told(void **state)
{
	(void)state;
	expect("count = 4", "count = 1",
	    FOLLOWED EXIT_TOP
	    "limits tool_spread_of_means_dc: no line has two channels of role "
	    "tool: they judge nothing\n" RECIPES);
	expect("[store plant]",
	    "[limits sag_s]\nupper = 180 s\n[limits energy_kwh]\nupper = 4 kWh\n"
	    "[limits water_rise_dc]\nupper = 4 K\n[limits heat_s]\nupper = 180 s\n"
	    "[store plant]",
	    FOLLOWED
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
	    FOLLOWED);
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
	assert_string_equal(all, FOLLOWED EXIT_TOP RECIPES
	    "there is no [shift]: reports are by day\n"
	    "there is no [store]: shots are kept in the ledger alone\n");
	settings_free(settings);
	free(text);
}

/* --- how sheets are followed ------------------------------------------------------ */

#define NO_SHIFTS                                   \
	"there is no [shift]: reports are by day\n" \
	"there is no [store]: shots are kept in the ledger alone\n"

#define FRAMES(side)                                                                 \
	"line a has no channel of role clamp_closed or sheet_in_frame on side " side \
	": an empty frame counts as a sheet, and a sheet that is heated again as a " \
	"new one\n"

#define CHANNEL(name, role, table, address, type)                 \
	"[channel plc." name "]\nrole = " role "\ntable = " table \
	"\naddress = " address "\ntype = " type "\n"

static void
what_a_ring_cannot_tell_is_told(void **state)
{
	(void)state;
	/* a debounced bit stays on over a stop in the middle */
	expect_in(ring, "role = rotating\n", "role = rotating\ndebounce_ms = 800\n",
	    "line a has no channel of role cycle_count: an index between two polls "
	    "goes unseen\n" RETURNS NO_SHIFTS);
	expect_in(ring, "[channel plc.top_a]",
	    CHANNEL("count", "cycle_count", "input", "90", "uint16") CHANNEL(
		"sheet", "sheet_at_load", "discrete", "9", "bit") "[channel plc.top_a]",
	    NO_SHIFTS);
	expect_in(ring, "role = rotating\ntable = discrete\naddress = 0\ntype = bit\n",
	    "role = cycle_count\ntable = input\naddress = 90\ntype = uint16\n",
	    "line a has no channel of role rotating: the time in which the frames move "
	    "on counts as heat\n" RETURNS NO_SHIFTS);
}

static void
limits_need_channels_in_their_oven_and_on_one_side(void **state)
{
	char *one;

	(void)state;
	expect_in(ring, "[channel plc.top_b]\nrole = surface_top",
	    "[limits exit_top_c]\nupper = 180 C\n[limits rate_top_c_per_s]\nupper = 2 "
	    "K/s\n[limits exit_bottom_c]\nupper = 180 C\n"
	    "[limits rate_bottom_c_per_s]\nupper = 2 K/s\n"
	    "[channel plc.top_b]\nrole = surface_bottom",
	    FOLLOWED
	    "limits exit_top_c: no line has a channel of role surface_top in its last "
	    "oven: they judge nothing\n"
	    "limits rate_bottom_c_per_s: no line has a channel of role surface_bottom "
	    "in its first oven: they judge nothing\n" NO_SHIFTS);
	/* a tool sensor on either side is no pair */
	one = text_with(shuttle, "count = 4\n", "");
	expect_in(one,
	    "side = right\ncount = 6\ntable = input\naddress = 30\ntype = int16\n"
	    "unit = C\n",
	    "side = right\ntable = input\naddress = 30\ntype = int16\nunit = C\n"
	    "[limits tool_spread_mean_dc]\nupper = 2 K\n"
	    "[limits tool_swing_dc]\nupper = 2 K\n",
	    FRAMES("left") FRAMES("right") "limits tool_spread_mean_dc: no line has "
					   "two channels of role tool: they "
					   "judge nothing\n" NO_SHIFTS);
	free(one);
}

static void
a_frame_that_nobody_looks_into_is_told(void **state)
{
	(void)state;
	expect_in(single, "[line a]", "[line a]\n", NO_SHIFTS);
	expect_in(single, "role = clamp_closed", "role = sheet_in_frame", NO_SHIFTS);
	expect_in(single, "role = clamp_closed", "role = other",
	    "line a has no channel of role clamp_closed or sheet_in_frame: an empty "
	    "frame counts as a sheet, and a sheet that is heated again as a new "
	    "one\n" NO_SHIFTS);
	expect_in(shuttle, "[channel plc.top]",
	    "[channel plc.clamp]\nrole = clamp_closed\nside = left\ntable = discrete\n"
	    "address = 9\ntype = bit\n[channel plc.top]",
	    "line a has no channel of role clamp_closed or sheet_in_frame on side "
	    "right: "
	    "an empty frame counts as a sheet, and a sheet that is heated again as a "
	    "new "
	    "one\n" NO_SHIFTS);
}

static void
moves_from_several_devices_are_told(void **state)
{
	(void)state;
	expect_in(single, "[channel plc.clamp_closed]",
	    "[device more]\nline = a\naddress = 127.0.0.1:1503\n"
	    "[channel more.clamp_closed]",
	    "line a reads form_closed and clamp_closed from different devices: which "
	    "came first is known to a poll of both alone; read them from one device "
	    "when it has them\n" NO_SHIFTS);
	/* the sag eye moves nothing */
	expect_in(single, "[channel plc.clamp_closed]",
	    "[device more]\nline = a\naddress = 127.0.0.1:1503\n" CHANNEL("x",
		"sheet_in_frame", "discrete", "8",
		"bit") "[channel more.eye]\nrole = sag_eye\ntable = coil\naddress = "
		       "0\ntype = bit\n"
		       "[channel plc.clamp_closed]",
	    NO_SHIFTS);
}

/* --- how closely they are followed ------------------------------------------------- */

#define SELDOM_AND(more, device, period, role)                                        \
	"device " device " is polled every " period " s and tells of " role ": what " \
	"moves is known to that alone, and a few polls without an answer hide "       \
	"several moves" more "; write 'period_ms' of 1000 or less, 500 as a rule\n"
#define SELDOM(device, period, role) SELDOM_AND("", device, period, role)
#define UNSURE "; shots whose times are known no better than that may be partial"

static void
a_seldom_poll_of_what_moves_is_told(void **state)
{
	(void)state;
	expect_in(
	    single, "[device plc]\n", "[device plc]\nperiod_ms = 1000\n", NO_SHIFTS);
	expect_in(single, "[device plc]\n", "[device plc]\nperiod_ms = 1001\n",
	    SELDOM("plc", "1.001", "oven_in") NO_SHIFTS);
	expect_in(single, "[device plc]\n", "[device plc]\nperiod_ms = 7500\n",
	    SELDOM_AND(UNSURE, "plc", "7.5", "oven_in") NO_SHIFTS);
	expect_in(ring, "[device plc]\n", "[device plc]\nperiod_ms = 5000\n",
	    FOLLOWED SELDOM("plc", "5", "rotating") NO_SHIFTS);
	/* platens close within a minute too */
	expect_in(single, "[channel plc.form_closed]",
	    "[device more]\nline = a\naddress = 127.0.0.1:1503\nperiod_ms = 60000\n"
	    "[channel more.form_closed]",
	    "line a reads form_closed and oven_in from different devices: which came "
	    "first is known to a poll of both alone; read them from one device when it "
	    "has them\n" SELDOM_AND(UNSURE, "more", "60", "form_closed") NO_SHIFTS);
	/* what moves nothing may be polled as seldom as one likes */
	expect_in(single, "[channel plc.oven_in]",
	    "[device more]\nline = a\naddress = 127.0.0.1:1503\nperiod_ms = 60000\n"
	    "[channel more.eye]\nrole = sag_eye\ntable = coil\naddress = 0\n"
	    "type = bit\n[channel plc.oven_in]",
	    NO_SHIFTS);
}

#define UNFORMED(debounce, least)                                                     \
	"channel plc.form_closed: 'debounce_ms' is " debounce ", but platens closed " \
	"for " least " s form a sheet ('form_min_s'): one formed in less than the "   \
	"debounce is not seen; write as long as the bit blinks, no longer\n"
#define SLOW(role)                                                                 \
	"channel plc." role ": 'debounce_ms' is 3001: a " role " that is over in " \
	"less is not seen; write as long as the bit blinks, no longer\n"
#define DEBOUNCED(role, debounce) "role = " role "\ndebounce_ms = " debounce "\n"

static void
a_debounce_that_hides_moves_is_told(void **state)
{
#define ROW(role)                                                                      \
	{                                                                              \
		"role = " role "\n", DEBOUNCED(role, "3000"), DEBOUNCED(role, "3001"), \
		    SLOW(role) NO_SHIFTS                                               \
	}
	static const struct {
		const char *from, *most, *more, *told;
	} rows[] = {ROW("oven_in"), ROW("form_closed"), ROW("clamp_closed")};
	char *brief;

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		expect_in(single, rows[i].from, rows[i].most, NO_SHIFTS);
		expect_in(single, rows[i].from, rows[i].more, rows[i].told);
	}
	expect_in(single, "role = form_closed\n", DEBOUNCED("form_closed", "30000"),
	    UNFORMED("30000", "5") NO_SHIFTS);
	brief = text_with(single, "[line a]\n", "[line a]\nform_min_s = 2\n");
	expect_in(
	    brief, "role = form_closed\n", DEBOUNCED("form_closed", "2000"), NO_SHIFTS);
	expect_in(brief, "role = form_closed\n", DEBOUNCED("form_closed", "2001"),
	    UNFORMED("2001", "2") NO_SHIFTS);
	free(brief);
	/* every forming counts, however brief: a blink is told from one all the same */
	brief = text_with(single, "[line a]\n", "[line a]\nform_min_s = 0\n");
	expect_in(
	    brief, "role = form_closed\n", DEBOUNCED("form_closed", "400"), NO_SHIFTS);
	free(brief);
	/* a sag eye moves nothing */
	expect_in(single, "[channel plc.oven_in]",
	    "[channel plc.eye]\nrole = sag_eye\ndebounce_ms = 30000\ntable = coil\n"
	    "address = 0\ntype = bit\n[channel plc.oven_in]",
	    NO_SHIFTS);
}

#define NEAR_TIMER(least, timer)                                                      \
	"line a: 'heat_min_s' is " least ", near to 'heat_timer_s' of " timer ": a "  \
	"sheet that sags before that counts as not heated; write well less than the " \
	"shortest good heat\n"

static void
a_shortest_heat_near_the_timer_is_told(void **state)
{
	(void)state;
	expect_in(single, "[line a]\n", "[line a]\nheat_min_s = 184\n", NO_SHIFTS);
	expect_in(single, "[line a]\n", "[line a]\nheat_min_s = 185\n",
	    NEAR_TIMER("185", "230") NO_SHIFTS);
	expect_in(single, "[line a]\n", "[line a]\nheat_min_s = 229\n",
	    NEAR_TIMER("229", "230") NO_SHIFTS);
	/* a recipe has a timer of its own */
	expect_in(single, "[line a]\n",
	    "[recipe 12]\nheat_timer_s = 36\n[recipe 13]\nheat_timer_s = 38\n"
	    "[recipe 14]\n[line a]\n",
	    NEAR_TIMER("30", "36 of recipe 12") NO_SHIFTS);
}

#define EYE                                                              \
	"[device more]\nline = a\naddress = 127.0.0.1:1503\n"            \
	"[channel more.sheet]\nrole = sheet_at_load\ntable = discrete\n" \
	"address = 9\ntype = bit\n"
#define APART(role)                                                                  \
	"line a reads sheet_at_load and " role " from different devices: while one " \
	"of them is silent cycle_count tells of the indexes, but nobody of a sheet " \
	"that is taken off; read them from one device when it has them\n"

static void
an_eye_apart_from_what_turns_the_ring_is_told(void **state)
{
	(void)state;
	expect_in(ring, "[channel plc.top_a]",
	    CHANNEL("count", "cycle_count", "input", "90", "uint16") EYE
	    "[channel plc.top_a]",
	    APART("rotating") NO_SHIFTS);
	char *counted = text_with(ring,
	    "role = rotating\ntable = discrete\naddress = 0\ntype = bit\n",
	    "role = cycle_count\ntable = input\naddress = 90\ntype = uint16\n");
	expect_in(counted, "[channel plc.top_a]", EYE "[channel plc.top_a]",
	    "line a has no channel of role rotating: the time in which the frames move "
	    "on counts as heat\n" APART("cycle_count") NO_SHIFTS);
	free(counted);
	/* without a counter the sheets of a silence are given up anyway */
	expect_in(
	    ring, "[channel plc.top_a]", EYE "[channel plc.top_a]", INDEXES NO_SHIFTS);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_cannot_be_meant_otherwise_is_not_told),
	    cmocka_unit_test(addresses_as_a_manual_writes_them_are_told_once),
	    cmocka_unit_test(limits_that_no_line_can_be_judged_by_are_told),
	    cmocka_unit_test(a_plant_without_shifts_or_stores_is_told),
	    cmocka_unit_test(what_a_ring_cannot_tell_is_told),
	    cmocka_unit_test(limits_need_channels_in_their_oven_and_on_one_side),
	    cmocka_unit_test(a_frame_that_nobody_looks_into_is_told),
	    cmocka_unit_test(moves_from_several_devices_are_told),
	    cmocka_unit_test(a_seldom_poll_of_what_moves_is_told),
	    cmocka_unit_test(a_debounce_that_hides_moves_is_told),
	    cmocka_unit_test(a_shortest_heat_near_the_timer_is_told),
	    cmocka_unit_test(an_eye_apart_from_what_turns_the_ring_is_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
