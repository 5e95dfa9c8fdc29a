/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What must hold on a serial line whatever comes late and whoever reads it too: no
 * value is ever another's.
 */
#include "daemon/fieldbus/link.h"

#include <sys/wait.h>

#include "tests/unit/daemon/fieldbus/serial_line.h"
#include "tests/unit/seed.h"

enum { BLOCKS = 9, LONG_BLOCKS = 6 };

/* Of the same lengths with other contents; at the end single registers. */
static const struct read_block blocks[BLOCKS] = {
    {.table = TABLE_HOLDING, .first = 100, .count = 10},
    {.table = TABLE_HOLDING, .first = 300, .count = 10},
    {.table = TABLE_HOLDING, .first = 500, .count = 10},
    {.table = TABLE_HOLDING, .first = 700, .count = 9},
    {.table = TABLE_INPUT, .first = 700, .count = 10},
    {.table = TABLE_COIL, .first = 40, .count = 30},
    {.table = TABLE_HOLDING, .first = 900, .count = 1},
    {.table = TABLE_HOLDING, .first = 901, .count = 1},
    {.table = TABLE_HOLDING, .first = 902, .count = 1},
};

static struct slaves slaves;
static struct serial_line line;

/* --- late -------------------------------------------------------------------------- */

/* Reads the first `count` blocks at random for `seconds`; how many were good. */
static int
read_at_random(double seconds, int count, unsigned *seed)
{
	struct mono start = clock_mono();
	int good = 0;

	while (seconds_since(start) < seconds) {
		const struct read_block *block = &blocks[rand_r(seed) % count];
		int unit_id = rand_r(seed) % 8 ? 1 : 2;
		enum answer answer = serial_line_read(&line, unit_id, block);

		if (answer == ANSWER_GOOD &&
		    !serial_line_is_right(&line, unit_id, block))
			fail_msg("unit %d, %d from %d: another's values", unit_id,
			    block->count, block->first);
		good += answer == ANSWER_GOOD;
	}
	return good;
}

/* Honest again they are believed again; soon, but this machine has other work. */
static void
expect_belief(int count, unsigned *seed)
{
	for (int i = 0; i < 100; i++)
		if (read_at_random(0.1, count, seed) > 5)
			return;
	fail_msg("not believed again: %s", line.error.text);
}

/* Each answer comes within four time-outs: three after its own. */
static void
try_late(int count, bool piles_up)
{
	static const double timeout_s = 0.02;
	unsigned seed = seed_take(1);
	int good = 0;

	slaves_start(&slaves);
	slaves.seed = seed;
	slaves.piles_up = piles_up;
	serial_line_open(&line, slaves.path, timeout_s);
	for (int round = 0; round < 8; round++) {
		slaves.late_most_ms =
		    (int)(1000 * timeout_s * (1 + (double)(round % 4)));
		good += read_at_random(0.4, count, &seed);
	}
	slaves.late_most_ms = 0;
	expect_belief(count, &seed);
	fprintf(stderr, "%d good answers among the late\n", good);
	assert_true(good > 5);
	link_free(line.link);
	slaves_stop(&slaves);
	assert_int_equal(slaves.damaged, 0);
}

static void
an_answer_of_any_lateness_is_never_anothers(void **state)
{
	(void)state;
	try_late(BLOCKS, false);
}

/* A unit that gets behind: what is late is without bound, but lengths tell it. */
static void
answers_that_pile_up_are_never_anothers(void **state)
{
	(void)state;
	try_late(LONG_BLOCKS, true);
}

/* Every lateness from nothing to three time-outs on, of one block after another. */
static void
no_lateness_slips_through(void **state)
{
	static const double timeout_s = 0.02;
	unsigned seed = seed_take(1);

	(void)state;
	slaves_start(&slaves);
	serial_line_open(&line, slaves.path, timeout_s);
	for (int ms = 0; ms <= 80; ms += 2) {
		slaves.delay_ms = ms;
		slaves_misbehave(&slaves, HABIT_LATE, 1);
		for (int i = 0; i < 6; i++)
			if (serial_line_read(&line, 1, &blocks[i % 2]) == ANSWER_GOOD)
				assert_true(
				    serial_line_is_right(&line, 1, &blocks[i % 2]));
		expect_belief(2, &seed);
	}
	link_free(line.link);
	slaves_stop(&slaves);
}

/* --- one by one -------------------------------------------------------------------- */

static const struct read_block nine = {
    .table = TABLE_HOLDING, .first = 1000, .count = 9};

/*
 * A request is not answered in time; the probe for another block of its length gets its
 * late answer, an exception or of the wrong length; the probe's own comes late.  Then the
 * probe's length is asked for.  False when this machine was too late for it.
 */
static bool
try_answers_that_lag(enum answer probed)
{
	enum answer answer = ANSWER_NONE;
	bool as_meant;

	slaves_start(&slaves);
	serial_line_open(&line, slaves.path, 0.15);
	if (probed == ANSWER_ILLEGAL)
		slaves.hole_first = slaves.hole_last = blocks[0].first;
	slaves.delay_ms = 380; /* past listening to it */
	slaves_misbehave(&slaves, HABIT_LATE, 1);
	as_meant = serial_line_read(&line, 1, &blocks[0]) == ANSWER_NONE;
	slaves.delay_ms = 150;
	slaves_misbehave(&slaves, HABIT_LATE, 1);
	as_meant = serial_line_read(&line, 1, &blocks[1]) == probed && as_meant;
	for (int i = 0; i < 100 && answer != ANSWER_GOOD; i++)
		answer = serial_line_read(&line, 1, &nine);
	assert_int_equal(answer, ANSWER_GOOD);
	assert_true(serial_line_is_right(&line, 1, &nine));
	link_free(line.link);
	slaves_stop(&slaves);
	return as_meant;
}

static void
answers_that_lag_by_one_are_never_the_next_ones(void **state)
{
	static const enum answer probed[] = {ANSWER_ILLEGAL, ANSWER_WRONG};

	(void)state;
	for (size_t i = 0; i < sizeof probed / sizeof *probed; i++) {
		int tries = 1;

		while (!try_answers_that_lag(probed[i]))
			assert_true(tries++ < 20);
	}
}

/* What came was no answer: that may come yet. */
static void
after_a_wrong_reply_the_right_one_is_waited_for(void **state)
{
	(void)state;
	slaves_start(&slaves);
	serial_line_open(&line, slaves.path, 0.15);
	slaves_misbehave(&slaves, HABIT_ONE_TOO_FEW, 1);
	assert_int_equal(serial_line_read(&line, 1, &blocks[0]), ANSWER_WRONG);
	serial_line_expect(&line, 1, &blocks[1]);
	assert_int_equal(slaves.requests, 3); /* behind a probe */
	link_free(line.link);
	slaves_stop(&slaves);
}

/* 0.3 s after the request it is given up, for 0.6 s. */
static void
a_single_register_is_expected_for_four_time_outs(void **state)
{
	enum answer answer = ANSWER_UNASKED;

	(void)state;
	slaves_start(&slaves);
	serial_line_open(&line, slaves.path, 0.15);
	slaves.delay_ms = 700;
	slaves_misbehave(&slaves, HABIT_LATE, 1);
	assert_int_equal(serial_line_read(&line, 1, &blocks[6]), ANSWER_NONE);
	for (int i = 0; i < 1000 && answer == ANSWER_UNASKED; i++) {
		usleep(5000);
		answer = serial_line_read(&line, 1, &blocks[7]);
	}
	if (answer == ANSWER_GOOD)
		assert_true(serial_line_is_right(&line, 1, &blocks[7]));
	link_free(line.link);
	slaves_stop(&slaves);
}

/* --- two programs ------------------------------------------------------------------ */

enum { READS = 1000 };

/* How many were good; -1: one was another's. */
static int
read_many(const char *path, int unit_id)
{
	int good = 0;

	serial_line_init(&line, path, 0.5);
	assert_int_equal(link_open(line.link, 0.5, &line.error), 0);
	for (int i = 0; i < READS; i++) {
		const struct read_block *block = &blocks[(i + unit_id) % BLOCKS];

		if (serial_line_read(&line, unit_id, block) != ANSWER_GOOD)
			fprintf(stderr, "%s\n", line.error.text);
		else if (!serial_line_is_right(&line, unit_id, block))
			return -1;
		else
			good++;
	}
	link_free(line.link);
	return good;
}

/* Most of them; a time-out of half a second is this machine's other work. */
static bool
is_well_read(int good)
{
	return good > READS * 95 / 100 && good <= READS;
}

/* Both ask the same unit for blocks of the same lengths. */
static void
two_programs_read_one_port_in_turns(void **state)
{
	int status, good;
	pid_t other;

	(void)state;
	slaves_start(&slaves);
	other = fork();
	assert_true(other >= 0);
	if (other == 0)
		_exit(is_well_read(read_many(slaves.path, 1)) ? 0 : 1);
	good = read_many(slaves.path, 1);
	assert_int_equal(waitpid(other, &status, 0), other);
	assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
	assert_true(is_well_read(good));
	slaves_stop(&slaves);
	assert_int_equal(slaves.damaged, 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(an_answer_of_any_lateness_is_never_anothers),
	    cmocka_unit_test(answers_that_pile_up_are_never_anothers),
	    cmocka_unit_test(no_lateness_slips_through),
	    cmocka_unit_test(answers_that_lag_by_one_are_never_the_next_ones),
	    cmocka_unit_test(after_a_wrong_reply_the_right_one_is_waited_for),
	    cmocka_unit_test(a_single_register_is_expected_for_four_time_outs),
	    cmocka_unit_test(two_programs_read_one_port_in_turns),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
