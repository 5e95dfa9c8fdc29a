/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `check --live` on a server of the test. */
#include "tests/unit/cli/command/served.h"

static void
every_channel_is_read_once(void **state)
{
	(void)state;
	write_set_up("", "");
	plant_run_command(&plant, "check", "--live", "--config", config);
	assert_exit(COMMAND_DONE);
	/* discrete 0 and 1, input 0 and 1, holding 30 and 31 */
	assert_int_equal(server.requests, 3);
	assert_tells(plant.out, "  plc.surface_1    1F40           800.0  C     good");
	/* 31 * 7 + 7000 = 7217 high, 7210 low */
	assert_tells(plant.out, "  plc.count        1C2A 1C31");
	assert_tells(plant.out, " 472980522 ");
	assert_tells(plant.out, "\nall 5 channels have a value\n");
	assert_memory_equal(plant.out, "ok\n", 3);
	plant_run_command(
	    &plant, "check", "--live", "--config", config, "--format", "csv");
	assert_exit(COMMAND_DONE);
	assert_tells(plant.out, "device,channel,raw,value,unit,quality,why\r\n");
	assert_tells(plant.out, "\r\nplc,surface_2,1F47,800.7,C,good,\r\n");
}

static void
what_has_no_value_says_why(void **state)
{
	(void)state;
	write_set_up("maximum = 500\n", "");
	plant_run_command(&plant, "check", "--live", "--config", config);
	assert_exit(COMMAND_NO);
	static const char first[] = "2 of 5 channels have no value\n";
	assert_memory_equal(plant.out, first, sizeof first - 1);
	assert_tells_not(plant.out, "ok\n");
	assert_tells(plant.out, "  plc.surface_2    1F47           800.7  C     out of "
				"range\n");
	assert_tells(
	    plant.out, "plc.surface 1-2 (out of range): must be 500.0 C or less\n");
	assert_tells(plant.out, "3 of 5 channels have a value, not: plc.surface 1-2\n");
	plant_run_command(
	    &plant, "check", "--live", "--config", config, "--format", "csv");
	assert_tells(plant.out, "\r\nplc,surface_2,1F47,,C,out_of_range,800.7 C: must "
				"be 500.0 C or less\r\n");
	write_set_up("sentinels = 0x1f40\n", "");
	plant_run_command(&plant, "check", "--live", "--config", config);
	assert_exit(COMMAND_NO);
	assert_says(plant.out,
	    "plc.surface_1 (sensor fault): raw 0x1F40 is one of its sentinels: no");
	assert_says(plant.out, "4 of 5 channels have a value, not: plc.surface_1");
	write_set_up("", "");
	server.hole_first = server.hole_last = 30;
	plant_run_command(&plant, "check", "--live", "--config", config);
	assert_exit(COMMAND_NO);
	assert_says(plant.out,
	    "plc.count (comm fault): read holding 30..31: exception 2, "
	    "illegal data address: check address and holes; another table, "
	    "or the first address off by one? 'evensoak registers --device "
	    "plc --table holding --first 30 --count 2' shows which are "
	    "there: where only some are not, name those in 'holes'");
	assert_says(plant.out, " in part ");
	assert_tells_not(plant.out, "frozen");
}

/* One row a channel, one sentence a cause, however many channels it is of. */
static void
a_cause_is_told_once(void **state)
{
	int rows = 0;

	(void)state;
	write_set_up("", "[channel plc.tool]\nrole = tool\ncount = 8\ntable = input\n"
			 "address = 40\ntype = int16\nscale = 0.1\nunit = C\n"
			 "minimum = 250\nmaximum = 300\nfrozen_after_s = 600\n");
	plant_run_command(&plant, "check", "--live", "--config", config);
	assert_exit(COMMAND_NO);
	assert_tells(
	    plant.out, "\nplc.tool 1-8 (out of range): must be 250.0 to 300.0 C\n");
	assert_tells(plant.out, "have a value, not: plc.tool 1-8\n");
	assert_says(plant.out, "one reading cannot show a frozen channel: watch does");
	for (const char *at = plant.out; (at = strstr(at, "plc.tool")) != NULL; at++)
		rows++;
	assert_int_equal(rows, 8 + 2);
}

static void
a_number_without_a_unit_has_its_digits(void **state)
{
	(void)state;
	/* input 50 is 350 + 4000 + 4000 = 8350, and the next 8357 */
	write_set_up("",
	    "[channel plc.ratio]\nrole = other\ntable = input\naddress = 50\n"
	    "type = int16\nscale = 0.00001\n\n"
	    "[channel plc.whole]\nrole = other\ntable = input\naddress = 51\n"
	    "type = int16\n");
	plant_run_command(&plant, "check", "--live", "--config", config);
	assert_exit(COMMAND_DONE);
	assert_tells(plant.out, " 0.0835 ");
	assert_tells(plant.out, " 8357 ");
}

static void
an_address_out_of_a_manual_is_told(void **state)
{
	(void)state;
	write_set_up("", "[channel plc.slip]\nrole = other\ntable = holding\n"
			 "address = 40001\ntype = int16\n");
	server.hole_first = 40001;
	server.hole_last = 40001;
	plant_run_command(&plant, "check", "--live", "--config", config);
	assert_exit(COMMAND_NO);
	assert_says(plant.out, "--table holding --first 40000 --count 3' shows what is "
			       "there");
	assert_tells_not(plant.out, "note: line");
	assert_says(
	    plant.out, "a manual's register 40001 is address 0 here, counted as on");
}

static void
a_busy_device_is_asked_again_and_told_so(void **state)
{
	(void)state;
	write_set_up("", "");
	server_misbehave(&server, MANNER_EXCEPTION, 2);
	server.exception = 6;
	plant_run_command(&plant, "check", "--live", "--config", config);
	assert_exit(COMMAND_DONE);
	server.refusing_unit = 1;
	server.refusal = 6;
	plant_run_command(&plant, "check", "--live", "--config", config);
	assert_exit(COMMAND_NO);
	assert_says(plant.out, "it answers busy: wait, or raise --gap-ms (of a set-up: "
			       "gap_ms)");
}

static void
a_dead_device_holds_nobody_up(void **state)
{
	struct timespec from, to;

	(void)state;
	write_set_up("", dead_device);
	plant_run_command(&plant, "check", "--live", "--config", config);
	assert_exit(COMMAND_NO);
	assert_says(plant.out, "meter: connect to 127.0.0.1:1: Connection refused; ");
	assert_says(plant.out, "5 of 6 channels have a value, not: meter (1 channel)");
	plant_run_command(
	    &plant, "check", "--live", "--config", config, "--device", "plc");
	assert_exit(COMMAND_DONE);
	/* one time-out, not one a block */
	write_set_up("", "");
	server.silent_unit = 1;
	clock_gettime(CLOCK_MONOTONIC, &from);
	plant_run_command(&plant, "check", "--live", "--config", config);
	clock_gettime(CLOCK_MONOTONIC, &to);
	assert_exit(COMMAND_NO);
	double took_s = (double)(to.tv_sec - from.tv_sec) +
	                (double)(to.tv_nsec - from.tv_nsec) / 1e9;
	assert_true(took_s < 2 * 0.200);
	assert_says(plant.out, "plc: timed out after 200 ms; ");
	plant_run_command(&plant, "check", "--device", "plc", "--config", config);
	assert_exit(COMMAND_USAGE);
	assert_tells(plant.err, "'--device' goes with --live");
	plant_run_command(
	    &plant, "check", "--live", "--device", "plk", "--config", config);
	assert_exit(COMMAND_USAGE);
	assert_tells(plant.err, "did you mean 'plc'?");
}

int
main(void)
{
#define TEST(name) cmocka_unit_test_setup(name, mend_server)
	const struct CMUnitTest tests[] = {
	    TEST(every_channel_is_read_once),
	    TEST(what_has_no_value_says_why),
	    TEST(a_cause_is_told_once),
	    TEST(a_number_without_a_unit_has_its_digits),
	    TEST(an_address_out_of_a_manual_is_told),
	    TEST(a_busy_device_is_asked_again_and_told_so),
	    TEST(a_dead_device_holds_nobody_up),
	};
	return cmocka_run_group_tests(tests, open_server, close_server);
}
