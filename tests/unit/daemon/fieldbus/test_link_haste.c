/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Late answers that nobody waits for any more: of a program that was killed, and of a
 * port that was lost and is opened again.
 */
#include "daemon/fieldbus/link.h"

#include <signal.h>
#include <sys/wait.h>

#include "tests/unit/daemon/fieldbus/serial_line.h"

static const double timeout_s = 0.15;

static const struct read_block holding = {
    .table = TABLE_HOLDING, .first = 100, .count = 10};
static const struct read_block other = {
    .table = TABLE_HOLDING, .first = 200, .count = 10}; /* as long */

static struct slaves slaves;
static struct serial_line line;

/* A program that opens the port, asks unit 3 for `holding` and is killed. */
static pid_t
start_program(void)
{
	pid_t program = fork();

	assert_true(program >= 0);
	if (program == 0) {
		serial_line_open(&line, slaves.path, timeout_s);
		serial_line_read(&line, 3, &holding);
		pause();
	}
	return program;
}

static void
kill_program(pid_t program)
{
	kill(program, SIGKILL);
	assert_int_equal(waitpid(program, NULL, 0), program);
}

static void
wait_for_requests(int count)
{
	for (int i = 0; i < 2000 && slaves.requests < count; i++)
		usleep(1000);
	assert_int_equal(slaves.requests, count);
}

static void
open_and_listen(void)
{
	serial_line_init(&line, slaves.path, timeout_s);
	assert_int_equal(link_open(line.link, timeout_s, &line.error), 0);
}

/* Good or not, it is never the values of other registers. */
static void
read_until_good(int unit_id, const struct read_block *block)
{
	for (int i = 0; i < 100; i++)
		if (serial_line_read(&line, unit_id, block) == ANSWER_GOOD) {
			assert_true(serial_line_is_right(&line, unit_id, block));
			return;
		}
	fail_msg("never answered: %s", line.error.text);
}

static void
a_port_that_is_opened_is_listened_to_for_a_time_out(void **state)
{
	struct mono start = clock_mono();

	(void)state;
	slaves_start(&slaves);
	open_and_listen();
	assert_in_range(
	    seconds_since(start) * 1000, 1000 * timeout_s, 1000 * timeout_s + 500);
	serial_line_expect(&line, 3, &holding);
	assert_int_equal(slaves.requests, 2); /* behind a probe, this once */
	serial_line_expect(&line, 3, &other);
	assert_int_equal(slaves.requests, 3);
	serial_line_expect(&line, 4, &other);
	assert_int_equal(slaves.requests, 5);
	link_free(line.link);
	slaves_stop(&slaves);
}

/* Any byte makes it listen on, and no noise for ever. */
static void
what_is_heard_meanwhile_makes_it_listen_longer(void **state)
{
	static const int late_ms[] = {100, 100000};

	(void)state;
	for (size_t i = 0; i < sizeof late_ms / sizeof *late_ms; i++) {
		struct mono start;
		pid_t program;

		slaves_start(&slaves);
		slaves.delay_ms = late_ms[i] < 1000 ? late_ms[i] : 20;
		slaves_misbehave(
		    &slaves, late_ms[i] < 1000 ? HABIT_LATE : HABIT_DRIPPING, 1);
		program = start_program();
		wait_for_requests(1);
		kill_program(program);
		start = clock_mono();
		open_and_listen();
		assert_in_range(seconds_since(start) * 1000, 1400 * timeout_s,
		    3000 * timeout_s + 500);
		link_free(line.link);
		slaves_stop(&slaves);
	}
}

/* Of each lateness, past the listening too. */
static void
the_answer_to_a_program_that_was_killed_is_not_the_next_ones(void **state)
{
	(void)state;
	for (int late_ms = 20; late_ms < 600; late_ms += 40) {
		pid_t program;

		slaves_start(&slaves);
		slaves.delay_ms = late_ms;
		slaves_misbehave(&slaves, HABIT_LATE, 1);
		program = start_program();
		wait_for_requests(1);
		kill_program(program);
		open_and_listen();
		read_until_good(3, &other);
		read_until_good(3, &holding);
		link_free(line.link);
		slaves_stop(&slaves);
	}
}

static void *
kill_soon(void *arg)
{
	const pid_t *program = arg;

	usleep(60000);
	kill_program(*program);
	return NULL;
}

/* It has the port open too, and waits. */
static void
nor_that_of_one_who_was_waiting_for_it(void **state)
{
	for (int late_ms = 80; late_ms < 180; late_ms += 20) {
		pthread_t thread;
		pid_t program;

		(void)state;
		slaves_start(&slaves);
		serial_line_open(&line, slaves.path, timeout_s);
		slaves.delay_ms = late_ms;
		slaves_misbehave(&slaves, HABIT_LATE, 1);
		program = start_program();
		wait_for_requests(1);
		assert_int_equal(pthread_create(&thread, NULL, kill_soon, &program), 0);
		read_until_good(3, &other);
		pthread_join(thread, NULL);
		read_until_good(3, &holding);
		link_free(line.link);
		slaves_stop(&slaves);
	}
}

/* One that had warned, and is no more. */
static void
what_another_program_warned_of_stays_when_it_goes(void **state)
{
	pid_t program;

	(void)state;
	slaves_start(&slaves);
	serial_line_open(&line, slaves.path, timeout_s);
	slaves_misbehave(&slaves, HABIT_SILENT, 2);
	program = start_program();
	wait_for_requests(1);
	usleep((useconds_t)(2.3e6 * timeout_s)); /* its time-out, and its listening */
	assert_int_equal(serial_line_read(&line, 3, &other), ANSWER_NONE);
	wait_for_requests(2); /* that was a probe */
	kill_program(program);
	serial_line_expect(&line, 3, &other);
	assert_int_equal(slaves.requests, 4); /* and another one now */
	link_free(line.link);
	slaves_stop(&slaves);
}

/* --- lost -------------------------------------------------------------------------- */

static void *
pull_out(void *arg)
{
	(void)arg;
	usleep(20000);
	slaves_stop(&slaves);
	return NULL;
}

static void
what_was_asked_of_a_lost_port_stays_in_doubt(void **state)
{
	char path[] = "/tmp/evensoak-haste-XXXXXX";
	static struct serial_line second;
	pthread_t thread;

	(void)state;
	close(mkstemp(path));
	unlink(path);
	slaves_start(&slaves);
	assert_int_equal(symlink(slaves.path, path), 0);
	serial_line_open(&line, path, timeout_s);
	serial_line_expect(&line, 3, &holding);
	slaves_misbehave(&slaves, HABIT_SILENT, 1);
	assert_int_equal(pthread_create(&thread, NULL, pull_out, NULL), 0);
	assert_int_equal(serial_line_read(&line, 3, &holding), ANSWER_LOST);
	pthread_join(thread, NULL);

	slaves_start(&slaves);
	unlink(path);
	assert_int_equal(symlink(slaves.path, path), 0);
	assert_int_equal(link_open(line.link, 0, &line.error), 0);
	serial_line_open(&second, path, timeout_s); /* which is warned */
	serial_line_expect(&second, 3, &other);
	assert_int_equal(slaves.requests, 2);
	serial_line_expect(&line, 3, &other);
	assert_int_equal(slaves.requests, 4);
	serial_line_expect(&line, 3, &holding);
	assert_int_equal(slaves.requests, 5);
	link_free(second.link);
	link_free(line.link);
	slaves_stop(&slaves);
	unlink(path);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_port_that_is_opened_is_listened_to_for_a_time_out),
	    cmocka_unit_test(what_is_heard_meanwhile_makes_it_listen_longer),
	    cmocka_unit_test(
		the_answer_to_a_program_that_was_killed_is_not_the_next_ones),
	    cmocka_unit_test(nor_that_of_one_who_was_waiting_for_it),
	    cmocka_unit_test(what_another_program_warned_of_stays_when_it_goes),
	    cmocka_unit_test(what_was_asked_of_a_lost_port_stays_in_doubt),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
