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

/* On the wires it is as an echo without an answer.  True means good. */
static bool
read_twin(const struct read_block *bits, int echoes)
{
	const uint8_t asked[] = {(uint8_t)bits->first, 0, (uint8_t)bits->count};
	bool good;

	slaves.echo = echoes;
	slaves_misbehave(&slaves, HABIT_SILENT, 1);
	good = serial_line_read(&line, 3, bits) == ANSWER_GOOD;
	for (int i = 0; good && i < bits->count; i++)
		assert_int_equal(line.words[i], asked[i / 8] >> i % 8 & 1);
	return good;
}

/* Coils that are set like the request for them. */
static void
an_answer_that_looks_like_an_echo_is_one_where_there_is_none(void **state)
{
	struct read_block bits = {.table = TABLE_COIL, .first = 0x0310, .count = 21};

	(void)state;
	for (int echoes = 0; echoes < 2; echoes++) {
		assert_int_equal(link_open(line.link, 0, &line.error), 0);
		assert_false(read_twin(&bits, echoes + 1)); /* of whom, nobody knows */
		slaves.echo = echoes;
		for (int i = 0; i < 5; i++) /* the adapter is found out */
			serial_line_read(&line, 3, &holding);
		serial_line_expect(&line, 3, &holding);
		for (int i = 0; i < 3; i++) {
			assert_true(read_twin(&bits, echoes + 1));
			slaves.echo = echoes;
			serial_line_expect(&line, 3, &bits);
		}
	}
	slaves.echo = 0;
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
	int fd = open(slaves.path, O_RDWR | O_NOCTTY);
	struct mono start;
	char text[200];

	(void)state;
	assert_true(fd >= 0);
	assert_int_equal(flock(fd, LOCK_EX), 0);
	start = clock_mono();
	assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_UNASKED);
	snprintf(text, sizeof text,
	    "another program has held the port for 450 ms: 'fuser %s' tells which",
	    slaves.path);
	assert_string_equal(line.error.text, text);
	assert_in_range(seconds_since(start) * 1000, 440, 600);
	assert_int_equal(slaves.requests, 0);
	assert_int_equal(flock(fd, LOCK_UN), 0);
	serial_line_expect(&line, 3, &holding); /* and is not in doubt */
	assert_int_equal(slaves.requests, 1);
	close(fd);
}

static void *
release_soon(void *arg)
{
	const int *fd = arg;

	usleep(50000);
	flock(*fd, LOCK_UN);
	return NULL;
}

/* The other program's device may want its pause as well. */
static void
after_another_programs_exchange_the_gap_is_kept_too(void **state)
{
	int fd = open(slaves.path, O_RDWR | O_NOCTTY);
	struct mono start;
	pthread_t thread;

	(void)state;
	assert_int_equal(flock(fd, LOCK_EX), 0);
	line.device.gap_s = 0.2;
	start = clock_mono();
	assert_int_equal(pthread_create(&thread, NULL, release_soon, &fd), 0);
	serial_line_expect(&line, 3, &holding);
	assert_true(seconds_since(start) > 0.05 + line.device.gap_s);
	pthread_join(thread, NULL);
	close(fd);
}

static atomic_bool others_stop;

/* One exchange after another, 20 ms each. */
static void *
read_on(void *arg)
{
	struct serial_line *greedy = arg;

	while (!others_stop)
		serial_line_read(greedy, 4, &other);
	return NULL;
}

static void
a_program_that_reads_on_and_on_lets_another_have_its_turn(void **state)
{
	static struct serial_line greedy;
	pthread_t thread;

	(void)state;
	slaves.delay_ms = 20;
	slaves_misbehave(&slaves, HABIT_LATE, 1000000);
	serial_line_open(&greedy, slaves.path, 1);
	others_stop = false;
	assert_int_equal(pthread_create(&thread, NULL, read_on, &greedy), 0);
	for (int i = 0; i < 10; i++) {
		int before;

		usleep(30000); /* the other one is at it */
		before = slaves.requests;
		serial_line_expect(&line, 3, &holding);
		assert_in_range(slaves.requests - before, 1, 4);
	}
	others_stop = true;
	pthread_join(thread, NULL);
	link_free(greedy.link);
	slaves.times = 0;
}

/* One program's request is answered late, while another asks the same unit. */
static void
a_late_answer_to_one_program_is_not_anothers(void **state)
{
	static struct serial_line second;

	(void)state;
	serial_line_open(&second, slaves.path, timeout_s);
	for (int late_ms = 310; late_ms < 600; late_ms += 40) {
		struct mono start = clock_mono();
		int before = slaves.requests;

		slaves.delay_ms = late_ms;
		slaves_misbehave(&slaves, HABIT_LATE, 1);
		assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_NONE);
		while (serial_line_read(&second, 3, &other) != ANSWER_GOOD)
			assert_true(seconds_since(start) < 10);
		assert_true(serial_line_is_right(&second, 3, &other));
		assert_true(slaves.requests >= before + 3); /* a probe among them */
		serial_line_expect(&line, 3, &holding);
		before = slaves.requests; /* and all is well */
		serial_line_expect(&second, 3, &other);
		serial_line_expect(&line, 3, &other);
		assert_int_equal(slaves.requests, before + 2);
	}
	link_free(second.link);
}

/* A unit that stays silent for one program is not kept from another for ever. */
static void
a_warning_ends_when_nothing_can_come_late_any_more(void **state)
{
	struct read_block one = {.table = TABLE_HOLDING, .first = 7, .count = 1};
	static struct serial_line second;

	(void)state;
	serial_line_open(&second, slaves.path, timeout_s);
	slaves_misbehave(&slaves, HABIT_SILENT, 1);
	assert_int_equal(serial_line_read(&line, 3, &one), ANSWER_NONE);
	assert_int_equal(serial_line_read(&second, 3, &one), ANSWER_UNASKED);
	assert_non_null(strstr(second.error.text, "left alone"));
	usleep((useconds_t)(4.1e6 * timeout_s));
	assert_true(link_is_ready(line.link)); /* as the poller asks each period */
	serial_line_expect(&second, 3, &one);
	link_free(second.link);
}

/* The next program would have its late answers. */
static void
who_leaves_waits_for_what_may_come_late(void **state)
{
	struct mono start;

	(void)state;
	slaves_misbehave(&slaves, HABIT_SILENT, 1);
	assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_NONE);
	start = clock_mono();
	link_free(line.link);
	assert_in_range(
	    seconds_since(start) * 1000, 2 * 1000 * timeout_s, 4.5 * 1000 * timeout_s);
	serial_line_open(&line, slaves.path, timeout_s);
	serial_line_expect(&line, 3, &other);
	start = clock_mono();
	link_free(line.link);
	assert_true(seconds_since(start) < timeout_s);
	serial_line_open(&line, slaves.path, timeout_s);
}

#define test_on_a_line(name) cmocka_unit_test_setup_teardown(name, begin, end)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    test_on_a_line(an_adapter_that_echoes_is_noticed_and_skipped),
	    test_on_a_line(an_echo_that_looks_like_an_answer_is_none),
	    test_on_a_line(
		an_answer_that_looks_like_an_echo_is_one_where_there_is_none),
	    test_on_a_line(an_echo_without_an_answer_is_a_time_out),
	    test_on_a_line(noise_between_two_polls_harms_neither),
	    test_on_a_line(bytes_from_before_the_port_was_opened_are_no_answer),
	    test_on_a_line(settings_that_another_program_left_behind_are_set_again),
	    test_on_a_line(a_port_that_another_program_holds_is_waited_for),
	    test_on_a_line(after_another_programs_exchange_the_gap_is_kept_too),
	    test_on_a_line(a_program_that_reads_on_and_on_lets_another_have_its_turn),
	    test_on_a_line(a_late_answer_to_one_program_is_not_anothers),
	    test_on_a_line(a_warning_ends_when_nothing_can_come_late_any_more),
	    test_on_a_line(who_leaves_waits_for_what_may_come_late),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
