/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What `check` says of buses that have the time for what is read over them, and of those
 * that have not.
 */
#include "tests/unit/cli/command/plant.h"

static struct plant plant;

static const char head[] = "[site]\n"
			   "name = mill\n"
			   "timezone = Europe/Berlin\n"
			   "temperature_unit = C\n"
			   "[ledger]\n"
			   "path = ledger.db\n"
			   "[line line-1]\n"
			   "machine = rotary\n"
			   "stations = load, oven, form\n"
			   "heat_timer_s = 230\n"
			   "[bus ovens]\n"
			   "port = /dev/ttyUSB0\n"
			   "baud = 9600\n"
			   "parity = even\n"
			   "[device plc]\n"
			   "line = line-1\n"
			   "address = 127.0.0.1:1502\n"
			   "[channel plc.rotating]\n"
			   "role = rotating\n"
			   "table = coil\naddress = 0\ntype = bit\n"
			   "[channel plc.platens]\n"
			   "role = form_closed\n"
			   "table = coil\naddress = 1\ntype = bit\n";

/* One controller on the line, with two channels of one request each; and `more`. */
static const char *
write_more(const char *slow_ms, const char *fast_ms, const char *more)
{
	static char path[400];
	FILE *file;

	snprintf(path, sizeof path, "%s/serial.ini", plant.folder);
	file = fopen(path, "w");
	assert_non_null(file);
	fprintf(file,
	    "%s[device zones]\nline = line-1\nbus = ovens\nunit_id = 5\nperiod_ms = "
	    "%s\n"
	    "[channel zones.a]\nrole = other\ntable = holding\naddress = 0\ntype = "
	    "uint16\n"
	    "unit = C\n"
	    "[channel zones.b]\nrole = other\ntable = holding\naddress = 500\ntype = "
	    "uint16\n"
	    "unit = C\nperiod_ms = %s\n%s",
	    head, slow_ms, fast_ms, more);
	fclose(file);
	return path;
}

static const char *
write_set_up(const char *slow_ms, const char *fast_ms)
{
	return write_more(slow_ms, fast_ms, "");
}

static void
expect(const char *part)
{
	if (!strstr(plant.out, part))
		fail_msg("no '%s' in:\n%s%s", part, plant.out, plant.err);
}

/* One register at 9600 baud, 8E1: 45 ms. */
static void
groups_and_buses_have_their_times(void **state)
{
	const char *path = write_set_up("1000", "100");

	(void)state;
	plant_run_command(&plant, "check", "--config", path);
	expect("ok\n");
	assert_int_equal(plant.code, COMMAND_DONE);
	expect(
	    "zones       1      0.10  no              1         1   0.045    45.2\n");
	expect(
	    "zones       2      1.00  no              1         1   0.045     4.5\n");
	expect("ovens           serial  9600 8E1        1         11.00       0.497    "
	       "49.7\n");
	plant_run_command(&plant, "check", "--config", path, "--format", "json");
	expect("\"ok\": true");
	expect("\"bus_troubles\": []");
}

static void
a_serial_line_that_cannot_do_it_is_refused(void **state)
{
	(void)state;
	plant_run_command(&plant, "check", "--config", write_set_up("1000", "40"));
	assert_int_equal(plant.code, COMMAND_NO);
	expect("a serial line has no time for this\n");
	plant_run_command(&plant, "check", "--config", write_set_up("1000", "40"),
	    "--format", "json");
	expect("lengthen their period_ms to 46 at least");
	plant_run_command(
	    &plant, "check", "--config", write_set_up("80", "60"), "--format", "json");
	assert_int_equal(plant.code, COMMAND_NO);
	expect("\"ok\": false");
	expect("\"impossible\": true");
	expect("bus 'ovens' needs 132 % of its time: lengthen period_ms");
}

/* 45 ms until it has answered. */
static void
a_time_out_before_the_answer_is_refused(void **state)
{
	const char *more = "[device tool]\nline = line-1\nbus = tools\nunit_id = 1\n"
			   "timeout_ms = 100\n"
			   "[bus tools]\nport = /dev/ttyUSB1\nbaud = 1200\n"
			   "[channel tool.a]\nrole = other\ntable = holding\n"
			   "address = 0\ntype = uint16\nunit = C\n";

	(void)state;
	plant_run_command(&plant, "check", "--config", write_more("1000", "100", more),
	    "--format", "json");
	assert_int_equal(plant.code, COMMAND_NO);
	expect("\"impossible\": true");
	expect(
	    "bus 'tools' takes 158 ms until device 'tool' has answered for holding 0, "
	    "and its timeout_ms is 100: raise timeout_ms");
}

static void
a_time_out_that_deafens_others_is_told_and_not_refused(void **state)
{
	const char *more = "[device tool]\nline = line-1\nbus = ovens\nunit_id = 6\n"
			   "timeout_ms = 5000\n"
			   "[channel tool.a]\nrole = other\ntable = holding\n"
			   "address = 0\ntype = uint16\nunit = C\n";

	(void)state;
	plant_run_command(&plant, "check", "--config", write_more("1000", "250", more),
	    "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	expect("\"ok\": true");
	expect("\"impossible\": false");
	expect("bus 'ovens': while 'tool' does not answer, 'zones' and others are read "
	       "up to 10.0 s late: lower timeout_ms of 'tool', now 5000");
}

static int
open_plant(void **state)
{
	(void)state;
	plant_open(&plant);
	return 0;
}

static int
close_plant(void **state)
{
	char path[400];

	(void)state;
	snprintf(path, sizeof path, "%s/serial.ini", plant.folder);
	unlink(path);
	plant_close(&plant);
	return 0;
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(groups_and_buses_have_their_times),
	    cmocka_unit_test(a_serial_line_that_cannot_do_it_is_refused),
	    cmocka_unit_test(a_time_out_before_the_answer_is_refused),
	    cmocka_unit_test(a_time_out_that_deafens_others_is_told_and_not_refused),
	};

	return cmocka_run_group_tests(tests, open_plant, close_plant);
}
