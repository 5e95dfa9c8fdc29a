/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An adapter that echoes, noise, and other programs on the same port. */
#include "daemon/fieldbus/link.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/file.h>
#include <cmocka.h>

#include "tests/unit/daemon/fieldbus/serial_line.h"

static const double timeout_s = 0.15;

static const struct read_block holding = {
    .table = TABLE_HOLDING, .first = 100, .count = 10};
static const struct read_block other = {
    .table = TABLE_HOLDING, .first = 200, .count = 10}; /* as long */

static struct slaves slaves;
static struct serial_line line;

static int
begin(void **state)
{
	(void)state;
	slaves_start(&slaves);
	serial_line_open(&line, slaves.path, timeout_s);
	return 0;
}

static int
end(void **state)
{
	(void)state;
	link_free(line.link);
	slaves_stop(&slaves);
	return slaves.damaged;
}

/* libmodbus takes the address's high byte for a length: each such has its own way. */
static void
an_adapter_that_echoes_is_noticed_and_skipped(void **state)
{
	static const uint16_t firsts[] = {
	    100, 0x0110, 0x0220, 0x0330, 0x0440, 0x1550, 0x8660, 0xFC00, 0xFF00};

	(void)state;
	for (size_t i = 0; i < sizeof firsts / sizeof *firsts; i++) {
		struct read_block block = {
		    .table = TABLE_HOLDING, .first = firsts[i], .count = 10};
		enum answer answer;

		assert_int_equal(link_open(line.link, 0, &line.error), 0);
		slaves.echo = true;
		answer = serial_line_read(&line, 3, &block);
		assert_true(answer == ANSWER_GOOD || answer == ANSWER_WRONG ||
			    answer == ANSWER_NONE);
		if (answer == ANSWER_GOOD)
			assert_true(serial_line_is_right(&line, 3, &block));
		else
			assert_non_null(strstr(line.error.text, "echo"));
		for (int round = 0; round < 5; round++) {
			serial_line_expect(&line, 3, &block);
			serial_line_expect(&line, 4, &holding);
		}
		slaves.echo = false; /* another adapter, while the port is open */
		assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_WRONG);
		serial_line_expect(&line, 3, &other);
	}
}

/* 17 to 24 bits at 0x300 and on: the request has the form of its answer. */
static void
an_echo_that_looks_like_an_answer_is_none(void **state)
{
	struct read_block bits = {.table = TABLE_COIL, .first = 0x0310, .count = 20};

	(void)state;
	slaves.echo = true;
	serial_line_expect(&line, 3, &bits);
	serial_line_expect(&line, 3, &bits);
	slaves.echo = false;
	assert_int_equal(serial_line_read(&line, 3, &bits), ANSWER_WRONG);
	serial_line_expect(&line, 3, &bits);
}

static void
an_echo_without_an_answer_is_a_time_out(void **state)
{
	(void)state;
	slaves.echo = true;
	serial_line_expect(&line, 4, &holding);
	slaves_misbehave(&slaves, HABIT_SILENT, 1);
	assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_NONE);
	assert_string_equal(line.error.text, "timed out after 150 ms");
	serial_line_expect(&line, 3, &holding);
}

static void
noise_between_two_polls_harms_neither(void **state)
{
	(void)state;
	for (int i = 0; i < 20; i++) {
		serial_line_expect(&line, 3, &holding);
		slaves_write(&slaves, (const uint8_t *)"\x03\x03\x14 noise", 9);
		usleep(2000);
	}
}

/* What a program before us asked for is answered to us. */
static void
bytes_from_before_the_port_was_opened_are_no_answer(void **state)
{
	uint8_t reply[SLAVES_FRAME] = {3, 3, 20, 0x12, 0x34};

	(void)state;
	slaves_seal(reply, 23);
	slaves_write(&slaves, reply, 25);
	usleep(5000);
	assert_int_equal(link_open(line.link, 0, &line.error), 0);
	serial_line_expect(&line, 3, &holding);
}

static void
settings_that_another_program_left_behind_are_set_again(void **state)
{
	struct termios theirs;

	(void)state;
	serial_line_expect(&line, 3, &holding);
	tcgetattr(slaves.slave, &theirs);
	theirs.c_lflag |= ICANON | ECHO;
	theirs.c_iflag |= ICRNL | IXON;
	cfsetspeed(&theirs, B1200);
	tcsetattr(slaves.slave, TCSANOW, &theirs);
	serial_line_expect(&line, 3, &holding);
	tcgetattr(slaves.slave, &theirs);
	assert_int_equal(cfgetospeed(&theirs), B115200);
}

static void
a_port_that_another_program_holds_is_waited_for(void **state)
{
	struct mono start;
	int fd = open(slaves.path, O_RDWR | O_NOCTTY);

	(void)state;
	assert_true(fd >= 0);
	assert_int_equal(flock(fd, LOCK_EX), 0);
	start = clock_mono();
	assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_NONE);
	assert_string_equal(
	    line.error.text, "another program has held the port for 450 ms");
	assert_in_range(seconds_since(start) * 1000, 440, 600);
	assert_int_equal(slaves.requests, 0);
	assert_int_equal(flock(fd, LOCK_UN), 0);
	serial_line_expect(&line, 3, &holding); /* and is not in doubt */
	assert_int_equal(slaves.requests, 1);
	close(fd);
}

#define test_on_a_line(name) cmocka_unit_test_setup_teardown(name, begin, end)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    test_on_a_line(an_adapter_that_echoes_is_noticed_and_skipped),
	    test_on_a_line(an_echo_that_looks_like_an_answer_is_none),
	    test_on_a_line(an_echo_without_an_answer_is_a_time_out),
	    test_on_a_line(noise_between_two_polls_harms_neither),
	    test_on_a_line(bytes_from_before_the_port_was_opened_are_no_answer),
	    test_on_a_line(settings_that_another_program_left_behind_are_set_again),
	    test_on_a_line(a_port_that_another_program_holds_is_waited_for),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
