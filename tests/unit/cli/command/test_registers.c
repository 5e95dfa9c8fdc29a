/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `registers` on a server of the test. */
#include "tests/unit/cli/command/served.h"

static void
a_device_without_a_set_up_is_read_by_its_address(void **state)
{
	(void)state;
	plant_run_command(&plant, "registers", "--address", address, "--unit", "2",
	    "--table", "input", "--first", "100", "--count", "4");
	assert_exit(COMMAND_DONE);
	assert_says(plant.out, "input 100..103 (function 4): 4 of 4 there; 1 request,");
	/* 100 * 7 + 4 * 1000 + 2 * 4000 = 12700 = 319C hex */
	assert_tells(plant.out, "      100     101  30101     319C   12700  12700  "
				"*1270.0      127.00");
	assert_tells(plant.out, "      103     104  30104     31B1 ");
	assert_string_equal(plant.err, "");
}

static void
a_document_s_number_tells_table_and_address(void **state)
{
	(void)state;
	plant_run_command(&plant, "registers", "--address", address, "--document",
	    "30101", "--count", "3", "--format", "csv");
	assert_exit(COMMAND_DONE);
	assert_tells(plant.out, "address,address_from_1,document,state,");
	assert_tells(plant.out, "\r\n100,101,30101,there,,");
	plant_run_command(
	    &plant, "registers", "--address", address, "--first", "40101");
	assert_says(plant.out, "is 40101 a number of the document? Then it is "
			       "--document 40101: on the wire that is address 100");
}

static void
holes_are_told_and_the_rest_is_read(void **state)
{
	(void)state;
	server.hole_first = 105;
	server.hole_last = 109;
	plant_run_command(&plant, "registers", "--address", address, "--first", "100",
	    "--count", "20", "--gap-ms", "0");
	assert_exit(COMMAND_DONE);
	assert_tells(plant.out, "100..119 (function 3): 15 of 20 there;");
	assert_tells(plant.out, "\n  105..109: no such registers, the device says\n");
	assert_tells(plant.out, "\n      104 ");
	assert_tells(plant.out, "\n      110 ");
	server.hole_last = 200;
	plant_run_command(&plant, "registers", "--address", address, "--first", "110",
	    "--count", "5", "--gap-ms", "0");
	assert_exit(COMMAND_NO);
	/* and no more than that */
	assert_tells(plant.out, "unit 1 at 127.0.0.1:");
	assert_says(plant.out,
	    ", holding 110..114 (function 3): none of them is there: read holding "
	    "114: exception 2, illegal data address: check address and holes; look at "
	    "another --table, or other addresses");
	assert_tells_not(plant.out, "hex");
	assert_tells_not(plant.out, "likely");
	assert_tells_not(plant.out, "--count 1");
}

static void
the_gap_between_two_requests_is_kept(void **state)
{
	struct timespec from, to;

	(void)state;
	clock_gettime(CLOCK_MONOTONIC, &from);
	plant_run_command(&plant, "registers", "--address", address, "--count", "6",
	    "--max-registers", "1", "--gap-ms", "50");
	clock_gettime(CLOCK_MONOTONIC, &to);
	assert_exit(COMMAND_DONE);
	assert_int_equal(server.requests, 6);
	double took_s = (double)(to.tv_sec - from.tv_sec) +
	                (double)(to.tv_nsec - from.tv_nsec) / 1e9;
	assert_true(took_s >= 5 * 0.050);
}

static void
one_register_ends_with_the_lines_of_its_channel(void **state)
{
	(void)state;
	/* 12707 = 31A3 and 12714 = 31AA hex */
	plant_run_command(&plant, "registers", "--address", address, "--unit", "2",
	    "--table", "input", "--first", "101", "--count", "1", "--expect",
	    "1200..1300");
	assert_exit(COMMAND_DONE);
	assert_tells(plant.out, "  hex         31A3 31AA, with the next one\n");
	assert_tells(plant.out, "  int16                  0.1       1270.7  *\n");
	assert_tells(plant.out, "\n[channel DEVICE.NAME]\nrole = other\ntable = input\n"
				"address = 101\ntype = int16\nscale = 0.1\n");
	assert_tells_not(plant.out, "word_order");
	plant_run_command(&plant, "registers", "--config", config, "--device", "plc",
	    "--first", "65535", "--count", "1");
	assert_exit(COMMAND_DONE);
	assert_tells(plant.out, "\n[channel plc.NAME]\n");
	assert_tells_not(plant.out, "float32");
}

/* Unit 1's holding 0 and 1 are 7000 and 7007: 1B58 1B5F hex, 458759007. */
static void
a_meter_s_scaled_number_is_found(void **state)
{
	(void)state;
	plant_run_command(&plant, "registers", "--address", address, "--count", "4",
	    "--expect", "4587590..4587591");
	assert_exit(COMMAND_DONE);
	assert_says(plant.out, "Two registers as a scaled number");
	assert_tells(plant.out, "        0  1B58 1B5F  int32  abcd         0.01  "
				"*4587590.07\n");
	plant_run_command(&plant, "registers", "--address", address, "--count", "1",
	    "--expect", "4587590..4587591");
	assert_exit(COMMAND_DONE);
	assert_tells(plant.out, "type = int32\nword_order = abcd\nscale = 0.01\n");
}

static void
what_fits_nothing_is_shown_all_the_same(void **state)
{
	(void)state;
	/* 0005 000C hex: tenths 0.5 and 1.2, as a whole number 327692 */
	plant_run_command(&plant, "registers", "--address", address, "--count", "2",
	    "--first", "8363", "--expect", "2..3");
	assert_exit(COMMAND_DONE);
	assert_says(plant.out, "Two registers as a whole number");
	assert_says(plant.out, "nothing of it lies in 2..3, nor in tenths to "
			       "thousandths: does the display show another unit");
	plant_run_command(&plant, "registers", "--address", address, "--count", "2",
	    "--first", "8363", "--expect", "1.1..1.3");
	assert_exit(COMMAND_DONE);
	assert_tells(plant.out, "*1.2 ");
	assert_tells_not(plant.out, "Two registers");
	assert_tells_not(plant.out, "nothing of it");
}

static void
where_nothing_fits_no_channel_is_offered(void **state)
{
	(void)state;
	plant_run_command(&plant, "registers", "--address", address, "--count", "1",
	    "--expect", "2..3");
	assert_exit(COMMAND_DONE);
	assert_tells_not(plant.out, "[channel");
	assert_says(plant.out, "lies in the range expected: no lines of a channel");
}

static void
coils_stand_ten_in_a_row(void **state)
{
	char row[64];
	size_t at;

	(void)state;
	plant_run_command(&plant, "registers", "--address", address, "--table", "coil",
	    "--first", "20", "--count", "12");
	assert_exit(COMMAND_DONE);
	at = (size_t)snprintf(row, sizeof row, "\n       20  00021   ");
	for (int i = 20; i < 30; i++)
		at += (size_t)snprintf(
		    row + at, sizeof row - at, "   %d", server_bit(1, 1, i));
	assert_tells(plant.out, row);
	assert_tells(plant.out, "\n       30  00031   ");
	plant_run_command(&plant, "registers", "--address", address, "--table", "coil",
	    "--expect", "0..1");
	assert_exit(COMMAND_USAGE);
}

static void
a_device_of_the_set_up_is_read_as_the_set_up_says(void **state)
{
	(void)state;
	plant_run_command(&plant, "registers", "--config", config, "--device", "plc",
	    "--first", "10", "--count", "30");
	assert_exit(COMMAND_DONE);
	assert_tells(plant.out, "plc, unit 1 at 127.0.0.1:");
	assert_tells(plant.out, "\n  14..19: a hole in the set-up: not asked for\n");
	assert_tells(plant.out, "24 of 30 there; 2 requests");
	/* and says which are mapped already */
	plant_run_command(&plant, "registers", "--config", config, "--device", "plc",
	    "--first", "30", "--count", "2", "--format", "json");
	assert_tells(plant.out, "\"channel\": \"count\"}");
	plant_run_command(&plant, "registers", "--config", config, "--device", "plk");
	assert_exit(COMMAND_USAGE);
	assert_tells(plant.err, "there is no device 'plk'; did you mean 'plc'?\n");
}

static void
what_stands_still_is_told_from_what_moves(void **state)
{
	(void)state;
	plant_run_command(
	    &plant, "registers", "--address", address, "--count", "3", "--again", "2");
	assert_exit(COMMAND_DONE);
	assert_int_equal(server.requests, 2);
	assert_tells(plant.out, "\nnothing moved in 2 readings\n");
}

static void
whoever_does_not_answer_is_told_with_what_to_look_at(void **state)
{
	(void)state;
	server.silent_unit = 7;
	plant_run_command(&plant, "registers", "--address", address, "--unit", "7",
	    "--timeout-ms", "100");
	assert_exit(COMMAND_CANNOT);
	assert_tells(plant.err, "timed out after 100 ms; ");
	assert_tells(plant.err, "look at the unit id");
	assert_string_equal(plant.out, "");
	plant_run_command(&plant, "registers", "--address", "127.0.0.1:1");
	assert_exit(COMMAND_CANNOT);
	assert_tells(plant.err, "Connection refused; ");
	assert_tells(plant.err, "the only connection");
	server_misbehave(&server, MANNER_GATEWAY_SILENT, 9);
	plant_run_command(&plant, "registers", "--address", address);
	assert_exit(COMMAND_CANNOT);
	assert_tells(plant.err, "the gateway is there, the device behind it is not");
	server_misbehave(&server, MANNER_CLOSING, 1);
	plant_run_command(&plant, "registers", "--address", address);
	assert_exit(COMMAND_CANNOT);
	assert_tells(plant.err, "stop evensoakd or another client for the moment");
}

static void
a_busy_device_is_told_so(void **state)
{
	(void)state;
	server.refusing_unit = 1;
	server.refusal = 6;
	plant_run_command(&plant, "registers", "--address", address);
	server.refusing_unit = -1;
	assert_exit(COMMAND_CANNOT);
	assert_int_equal(server.requests, 4);
	assert_tells(plant.err, "it answers busy: wait, or raise --gap-ms");
	assert_tells_not(plant.out, "none of them is there");
	server.refusing_unit = 1;
	server.refusal = 4;
	plant_run_command(&plant, "registers", "--address", address);
	server.refusing_unit = -1;
	assert_exit(COMMAND_CANNOT);
	assert_int_equal(server.requests, 4 + 5);
	assert_tells(plant.err, "that says nothing of the address");
}

static void
who_is_on_a_bus_is_found_by_asking_each(void **state)
{
	(void)state;
	server.silent_unit = 7;
	server.refusing_unit = 5;
	server.refusal = 2;
	plant_run_command(&plant, "registers", "--address", address, "--unit", "4..8",
	    "--timeout-ms", "100");
	assert_exit(COMMAND_DONE);
	assert_tells(plant.err, "asking units 4..8 once each: 0.1 s for every silent "
				"one, so up to 1 s");
	assert_int_equal(server.requests, 5);
	assert_tells(plant.out, "asked for holding 0 once: 4 of 5 answer\n");
	assert_tells(plant.out, "\n     4  answers    4A38 ");
	assert_tells(plant.out, "\n     5  exception  -  ");
	assert_says(plant.out, "read holding 0: exception 2, illegal data address: "
			       "check address");
	assert_tells(plant.out, "\nsilent: 7\n");
	plant_run_command(&plant, "registers", "--address", address, "--unit", "6..7",
	    "--timeout-ms", "100", "--format", "csv");
	server.refusing_unit = -1;
	assert_exit(COMMAND_DONE);
	assert_tells(plant.out, "unit_id,state,hex,took_s,why\r\n6,answers,");
	assert_tells(plant.out, "\r\n7,silent,,,timed out after 100 ms");
	/* nobody at all, and no bus */
	server_misbehave(&server, MANNER_GATEWAY_SILENT, 9);
	plant_run_command(&plant, "registers", "--address", address, "--unit", "1..3");
	assert_exit(COMMAND_NO);
	assert_tells(plant.out, ": 0 of 3 answer\n");
	assert_tells(plant.out, "\nnot reached: 1..3\n");
	plant_run_command(
	    &plant, "registers", "--address", "127.0.0.1:1", "--unit", "1..200");
	assert_exit(COMMAND_CANNOT);
	assert_tells(plant.err, "Connection refused; ");
}

static void
what_cannot_be_meant_is_refused_in_a_sentence(void **state)
{
	static const struct {
		const char *words[8];
		const char *told;
	} rows[] = {
	    {{"--count", "3"}, "say where to read: "},
	    {{"--address", "a", "--port", "/dev/ttyS0"}, "not both"},
	    {{"--address", "a", "--baud", "9600"}, "'--baud' goes with --port"},
	    {{"--port", "/dev/ttyS0", "--unit", "1"}, "say how fast the line is"},
	    {{"--port", "/dev/ttyS0", "--baud", "9600"},
		"say which device on the line"},
	    {{"--port", "/dev/ttyS0", "--baud", "9600", "--unit", "0"}, "1 to 247"},
	    {{"--port", "/dev/ttyS0", "--baud", "96", "--unit", "1"},
		"'--baud' is '96': write a whole number from "},
	    {{"--address", "a:b"}, "'--address' is 'a:b': write a port"},
	    {{"--address", "a", "--table", "holdin"}, "did you mean 'holding'?"},
	    {{"--address", "a", "--document", "101"}, "is --first 100"},
	    {{"--address", "a", "--document", "40101", "--table", "input"},
		"leave out '--table'"},
	    {{"--address", "a", "--first", "65530", "--count", "7"},
		"from 65530 on there are 6 addresses"},
	    {{"--address", "a", "--count", "0"}, "'--count' is 0, must be 1..2000"},
	    {{"--address", "a", "--expect", "20-30"}, "such as 20..230"},
	    {{"--address", "a", "--unit", "3..3"}, "a range that goes up"},
	    {{"--address", "a", "--unit", "1..300"}, "'--unit' is '1..300': "},
	    {{"--address", "a", "--unit", "1..3", "--count", "9"},
		"'--count' goes with one unit"},
	    {{"--port", "/dev/ttyS0", "--baud", "9600", "--unit", "1..250"},
		"'--unit' is 250, but devices of a serial line have 1 to 247"},
	    {{"--address", "a", "--device", "plc"}, ""},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		const char *words[PLANT_ARGUMENTS] = {"registers", "--config", config};
		for (size_t w = 0; w < 8; w++)
			words[3 + w] = rows[i].words[w];
		plant_call(&plant, words);
		assert_exit(COMMAND_USAGE);
		assert_tells(plant.err, rows[i].told);
		assert_string_equal(plant.out, "");
	}
	assert_int_equal(server.requests, 0);
}

int
main(void)
{
#define TEST(name) cmocka_unit_test_setup(name, mend_server)
	const struct CMUnitTest tests[] = {
	    TEST(a_device_without_a_set_up_is_read_by_its_address),
	    TEST(a_document_s_number_tells_table_and_address),
	    TEST(holes_are_told_and_the_rest_is_read),
	    TEST(the_gap_between_two_requests_is_kept),
	    TEST(one_register_ends_with_the_lines_of_its_channel),
	    TEST(a_meter_s_scaled_number_is_found),
	    TEST(what_fits_nothing_is_shown_all_the_same),
	    TEST(where_nothing_fits_no_channel_is_offered),
	    TEST(coils_stand_ten_in_a_row),
	    TEST(a_device_of_the_set_up_is_read_as_the_set_up_says),
	    TEST(what_stands_still_is_told_from_what_moves),
	    TEST(whoever_does_not_answer_is_told_with_what_to_look_at),
	    TEST(a_busy_device_is_told_so),
	    TEST(who_is_on_a_bus_is_found_by_asking_each),
	    TEST(what_cannot_be_meant_is_refused_in_a_sentence),
	};
	return cmocka_run_group_tests(tests, open_server, close_server);
}
