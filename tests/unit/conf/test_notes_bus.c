/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is told about buses, units, and when and how channels are read. */
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
#include "tests/unit/conf/serial.h"

#define NO_SHIFTS                                   \
	"there is no [shift]: reports are by day\n" \
	"there is no [store]: shots are kept in the ledger alone\n"

enum { TOLD = 4096 };

/* What is about the inside of the sheets has tests of its own. */
static void
take(void *arg, const char *sentence)
{
	char *told = arg;
	size_t length = strlen(told);

	if (!strstr(sentence, ": core_heat_end_c and what comes of it are absent"))
		snprintf(told + length, TOLD - length, "%s\n", sentence);
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

#define ZONE "type = uint16\nunit = %"

#define CHANNEL_OF(device, name, role, address)                              \
	"[channel " device "." name "]\nrole = " role "\ntable = discrete\n" \
	"address = " address "\ntype = bit\n"

static void
a_unit_that_stands_twice_is_told(void **state)
{
	(void)state;
	expect_in(serial, "unit_id = 4", "unit_id = 4", NO_SHIFTS);
	expect_in(serial, "unit_id = 4", "unit_id = 3",
	    "devices top and bottom are both unit 3 on ovens: two devices of one "
	    "number garble each other: set another at one of them; if it is one "
	    "device, write "
	    "one section, and 'period_ms' for what is read less often\n" NO_SHIFTS);
	expect_in(serial, "bus = tools\nunit_id = 3", "address = 127.0.0.1:1502",
	    "bus tools: no device is on it: it is not opened\n"
	    "devices plc and water are both unit 1 on 127.0.0.1:1502: if that is one "
	    "device, write one section, where channels have a 'period_ms' of their "
	    "own; if it is two, each answers into the other's answer\n" NO_SHIFTS);
	/* a device is of one line: one that tells of two has two sections */
	expect_in(serial,
	    "[device bottom]\nline = a\nbus = ovens\nunit_id = 4\n[channel "
	    "plc.oven_in]",
	    "[line b]\nmachine = single-station\nstations = load, oven, form\n"
	    "heat_timer_s = 230\n[device bottom]\nline = b\nbus = ovens\nunit_id = "
	    "3\n" CHANNEL_OF("bottom", "oven", "oven_in", "0")
		CHANNEL_OF("bottom", "form", "form_closed", "1") CHANNEL_OF(
		    "bottom", "clamped", "clamp_closed", "2") "[channel plc.oven_in]",
	    NO_SHIFTS);
}

static void
a_bus_without_devices_is_told(void **state)
{
	(void)state;
	expect_in(serial, "[bus tools]",
	    "[bus spare]\nport = /dev/ttyS0\nbaud = 9600\n[bus tools]",
	    "bus spare: no device is on it: it is not opened\n" NO_SHIFTS);
}

#define ALONE                                                                         \
	"'frozen_after_s' holds it against others of its role, oven and side on its " \
	"device, and there is none: it is never found frozen\n"

static void
what_is_alone_of_its_kind_is_never_frozen(void **state)
{
	(void)state;
	expect_in(serial, ZONE, ZONE "\nfrozen_after_s = 60", NO_SHIFTS);
	expect_in(serial, "count = 4\ntable = input\naddress = 0\n" ZONE,
	    "table = input\naddress = 0\n" ZONE "\nfrozen_after_s = 60",
	    "channel top.zone: " ALONE NO_SHIFTS);
	/* of one role with bits */
	expect_in(serial, "role = other\ntable = discrete\naddress = 9\ntype = bit\n",
	    "role = other\ntable = input\naddress = 9\ntype = int16\nunit = C\n"
	    "frozen_after_s = 60\n",
	    "channel top.alarm: " ALONE NO_SHIFTS);
}

static void
a_measure_read_too_seldom_for_a_heat_is_told_once(void **state)
{
	(void)state;
	expect_in(serial, ZONE, ZONE "\nperiod_ms = 57500", NO_SHIFTS);
	expect_in(serial, ZONE, ZONE "\nperiod_ms = 57600",
	    "channel top.zone_1 is read every 57.6 s, but a heat is over in 230 s: "
	    "figures of it will be missing; write a 'period_ms' of a few "
	    "seconds\n" NO_SHIFTS);
}

/* --- what moves --------------------------------------------------------------------- */

#define SELDOM(device, period, role)                                                  \
	"device " device " is polled every " period " s and tells of " role ": what " \
	"moves is known to that alone, and a few polls without an answer hide "       \
	"several moves; write 'period_ms' of 1000 or less, 500 as a rule\n"

/* The channel's own period counts. */
static void
what_moves_at_two_periods_is_told(void **state)
{
	(void)state;
	expect_in(single, "role = form_closed\n",
	    "role = form_closed\nperiod_ms = 500\n",
	    "line a reads form_closed every 0.5 s and oven_in every 1 s: which came "
	    "first is known to a poll of both alone; give both the same "
	    "'period_ms'\n" NO_SHIFTS);
	expect_in(single, "role = form_closed\n",
	    "role = form_closed\nperiod_ms = 5000\n",
	    "line a reads form_closed every 5 s and oven_in every 1 s: which came "
	    "first is known to a poll of both alone; give both the same "
	    "'period_ms'\n" SELDOM("plc", "5", "form_closed") NO_SHIFTS);
	expect_in(single, "[device plc]\n", "[device plc]\nperiod_ms = 5000\n",
	    SELDOM("plc", "5", "oven_in") NO_SHIFTS);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_unit_that_stands_twice_is_told),
	    cmocka_unit_test(a_bus_without_devices_is_told),
	    cmocka_unit_test(what_is_alone_of_its_kind_is_never_frozen),
	    cmocka_unit_test(a_measure_read_too_seldom_for_a_heat_is_told_once),
	    cmocka_unit_test(what_moves_at_two_periods_is_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
