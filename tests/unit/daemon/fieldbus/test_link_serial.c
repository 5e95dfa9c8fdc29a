/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/link.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
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

static void
every_table_is_read_up_to_its_maximum(void **state)
{
	(void)state;
	for (int table = TABLE_COIL; table <= TABLE_INPUT; table++) {
		struct read_block block = {.table = (enum register_table)table};
		const int counts[] = {1, 2, 7, 8, 9, 125, 2000};

		for (size_t i = 0; i < sizeof counts / sizeof *counts; i++) {
			block.count = (uint16_t)counts[i];
			block.first = (uint16_t)(65536 - counts[i]);
			if (counts[i] <= 125 || register_is_bit(block.table))
				serial_line_expect(&line, i % 2 ? 247 : 1, &block);
		}
	}
	assert_int_equal(link_counts(line.link).opened, 1);
	assert_int_equal(link_counts(line.link).lost, 0);
}

/* --- answers that are none --------------------------------------------------------- */

/* What one request comes to. */
static enum answer
expected(enum habit habit)
{
	switch (habit) {
	case HABIT_HONEST:
	case HABIT_IN_PARTS:
	case HABIT_STRANGER_BEFORE:
	case HABIT_EXTRA_BYTES: /* they come behind an answer */
	case HABIT_TWICE:
		return ANSWER_GOOD;
	case HABIT_LATE:
	case HABIT_SILENT:
	case HABIT_DRIPPING:
	case HABIT_HALF:
		return ANSWER_NONE;
	case HABIT_BAD_CRC:
	case HABIT_WRONG_UNIT:
	case HABIT_WRONG_FUNCTION:
	case HABIT_ONE_TOO_FEW:
	case HABIT_ONE_TOO_MANY:
		return ANSWER_WRONG;
	case HABIT_NOISE_BEFORE: /* how it is framed is chance */
	case HABIT_NOISE:
	case HABIT_COUNT:
		break;
	}
	return ANSWER_COUNT;
}

static void
try_habit(enum habit habit)
{
	struct mono start = clock_mono();
	enum answer answer;

	slaves.delay_ms = habit == HABIT_LATE ? 200 : habit == HABIT_DRIPPING ? 10 : 2;
	slaves_misbehave(&slaves, habit, 1);
	answer = serial_line_read(&line, 3, &holding);
	if (expected(habit) != ANSWER_COUNT)
		assert_int_equal(answer, expected(habit));
	else
		assert_true(answer == ANSWER_NONE || answer == ANSWER_WRONG);
	assert_true(answer == ANSWER_GOOD
			? serial_line_is_right(&line, 3, &holding)
			: line.words[0] == 0x5A5A && line.error.text[0]);
	/* The time-out, and listening for one or two. */
	assert_true(seconds_since(start) < 3 * timeout_s + 0.1);
}

static void
a_wrong_answer_is_never_taken_and_the_next_one_is_right(void **state)
{
	(void)state;
	for (int habit = 0; habit < HABIT_COUNT; habit++) {
		serial_line_expect(&line, 3, &holding);
		try_habit((enum habit)habit);
		serial_line_expect(&line, 3, &other);
		serial_line_expect(&line, 4, &holding);
		assert_true(link_is_ready(line.link));
	}
	assert_int_equal(link_counts(line.link).opened, 1);
}

static void
what_was_wrong_is_told(void **state)
{
	static const struct {
		enum habit habit;
		const char *text;
	} rows[] = {
	    {HABIT_SILENT, "timed out after 150 ms"},
	    {HABIT_HALF, "timed out after 150 ms, and what came is no reply: check "
			 "baud, parity and wiring"},
	    {HABIT_BAD_CRC, "reply damaged: its check sum is wrong"},
	    {HABIT_WRONG_UNIT, "reply out of step: unit id 4 in place of 3"},
	    {HABIT_WRONG_FUNCTION, "reply out of step: function 4 in place of 3"},
	    {HABIT_ONE_TOO_FEW, "reply out of step: byte count 18 in place of 20"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		serial_line_expect(&line, 3, &holding);
		slaves_misbehave(&slaves, rows[i].habit, 1);
		assert_int_not_equal(serial_line_read(&line, 3, &holding), ANSWER_GOOD);
		assert_string_equal(line.error.text, rows[i].text);
	}
}

static void
exceptions_name_the_registers_and_put_nothing_in_doubt(void **state)
{
	int before;

	(void)state;
	slaves.hole_first = slaves.hole_last = 105;
	assert_int_equal(serial_line_read(&line, 1, &holding), ANSWER_ILLEGAL);
	assert_string_equal(line.error.text,
	    "read holding 100..109: exception 2, illegal data address: check address "
	    "and holes");
	before = slaves.requests;
	serial_line_expect(&line, 1, &other);
	assert_int_equal(slaves.requests, before + 1);
}

static void
a_missing_unit_costs_the_others_nothing_but_time(void **state)
{
	(void)state;
	slaves.silent_unit = 9;
	for (int i = 0; i < 3; i++) {
		assert_int_equal(serial_line_read(&line, 9, &holding), ANSWER_NONE);
		serial_line_expect(&line, 3, &holding);
		serial_line_expect(&line, 4, &holding);
	}
	slaves.silent_unit = -1;
	serial_line_expect(&line, 9, &holding);
}

static void
units_that_no_serial_line_has_are_not_asked(void **state)
{
	(void)state;
	assert_int_equal(serial_line_read(&line, 0, &holding), ANSWER_ILLEGAL);
	assert_int_equal(serial_line_read(&line, 248, &holding), ANSWER_ILLEGAL);
	assert_non_null(strstr(line.error.text,
	    "unit id 248 is not for a serial line: it must be 1..247"));
	assert_int_equal(slaves.requests, 0);
}

/* --- in doubt ---------------------------------------------------------------------- */

static void
after_a_time_out_it_listens_and_a_probe_goes_before_the_block(void **state)
{
	struct mono start = clock_mono();
	int before;

	(void)state;
	slaves_misbehave(&slaves, HABIT_SILENT, 1);
	assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_NONE);
	assert_true(seconds_since(start) >= 2 * timeout_s);
	before = slaves.requests;
	serial_line_expect(&line, 4, &holding); /* which is not in doubt */
	assert_int_equal(slaves.requests, before + 1);
	serial_line_expect(&line, 3, &other);
	assert_int_equal(slaves.requests, before + 3);
	serial_line_expect(&line, 3, &other);
	assert_int_equal(slaves.requests, before + 4);
}

/* A late reply while another unit is asked. */
static void
the_late_reply_of_one_unit_is_not_anothers(void **state)
{
	(void)state;
	slaves.delay_ms = 350; /* past the listening too */
	slaves_misbehave(&slaves, HABIT_LATE, 1);
	assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_NONE);
	serial_line_expect(&line, 4, &holding); /* the units of this test queue up */
	serial_line_expect(&line, 3, &other);
}

static void
a_block_of_one_register_waits_for_what_may_come_late(void **state)
{
	struct read_block one = {.table = TABLE_HOLDING, .first = 7, .count = 1};
	struct mono start;

	(void)state;
	slaves_misbehave(&slaves, HABIT_SILENT, 1);
	assert_int_equal(serial_line_read(&line, 3, &one), ANSWER_NONE);
	start = clock_mono();
	assert_int_equal(serial_line_read(&line, 3, &one), ANSWER_UNASKED);
	/* what people need comes first, and it stays the same */
	assert_ptr_equal(strstr(line.error.text, "timed out after "), line.error.text);
	assert_non_null(strstr(line.error.text, "; left alone for "));
	assert_true(seconds_since(start) < 0.1);
	while (serial_line_read(&line, 3, &one) == ANSWER_UNASKED)
		usleep(20000);
	assert_true(serial_line_is_right(&line, 3, &one));
	assert_in_range(
	    seconds_since(start) * 1000, 2 * 1000 * timeout_s, 5 * 1000 * timeout_s);
	serial_line_expect(&line, 3, &one);
}

/* It came, and no other will: a glitch on the line costs a request, not a wait. */
static void
an_answer_that_came_damaged_puts_nothing_in_doubt(void **state)
{
	struct read_block one = {.table = TABLE_HOLDING, .first = 7, .count = 1};

	(void)state;
	slaves_misbehave(&slaves, HABIT_BAD_CRC, 1);
	assert_int_equal(serial_line_read(&line, 3, &one), ANSWER_WRONG);
	serial_line_expect(&line, 3, &one);
	assert_int_equal(slaves.requests, 2);
	slaves_misbehave(&slaves, HABIT_SILENT, 1);
	assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_NONE);
	slaves_misbehave(&slaves, HABIT_BAD_CRC, 1); /* of the probe: whose is it? */
	assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_WRONG);
	serial_line_expect(&line, 3, &holding);
	assert_int_equal(slaves.requests, 6); /* behind another probe */
}

/* --- time -------------------------------------------------------------------------- */

static void
the_next_request_waits_for_the_devices_gap(void **state)
{
	struct mono start;

	(void)state;
	line.device.gap_s = 0.05;
	serial_line_expect(&line, 3, &holding);
	start = clock_mono();
	line.device.gap_s = 0; /* of the next device, whom the first keeps waiting */
	serial_line_expect(&line, 4, &holding);
	assert_in_range(seconds_since(start) * 1000, 49, 140);
	start = clock_mono();
	serial_line_expect(&line, 4, &holding);
	assert_true(seconds_since(start) < 0.045);
}

static void
a_clock_at_a_rate_shortens_no_time_out(void **state)
{
	(void)state;
	assert_int_equal(clock_run_at(480, (struct wall){0}, 0, &line.error), 0);
	slaves.delay_ms = 50;
	slaves_misbehave(&slaves, HABIT_LATE, 1);
	serial_line_expect(&line, 3, &holding);
	assert_int_equal(clock_run_at(1, (struct wall){0}, 0, &line.error), 0);
}

#define test_on_a_line(name) cmocka_unit_test_setup_teardown(name, begin, end)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    test_on_a_line(every_table_is_read_up_to_its_maximum),
	    test_on_a_line(a_wrong_answer_is_never_taken_and_the_next_one_is_right),
	    test_on_a_line(what_was_wrong_is_told),
	    test_on_a_line(exceptions_name_the_registers_and_put_nothing_in_doubt),
	    test_on_a_line(a_missing_unit_costs_the_others_nothing_but_time),
	    test_on_a_line(units_that_no_serial_line_has_are_not_asked),
	    test_on_a_line(
		after_a_time_out_it_listens_and_a_probe_goes_before_the_block),
	    test_on_a_line(the_late_reply_of_one_unit_is_not_anothers),
	    test_on_a_line(a_block_of_one_register_waits_for_what_may_come_late),
	    test_on_a_line(an_answer_that_came_damaged_puts_nothing_in_doubt),
	    test_on_a_line(the_next_request_waits_for_the_devices_gap),
	    test_on_a_line(a_clock_at_a_rate_shortens_no_time_out),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
