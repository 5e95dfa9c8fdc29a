/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/standing.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/daemon/fieldbus/capture.h"

static struct mono
at(int64_t s)
{
	return (struct mono){s * CLOCK_SECOND_NS};
}

static void
a_state_that_stays_is_told_once(void **state)
{
	static struct capture log;
	struct standing standing;

	(void)state;
	standing_init(&standing, "plc");
	capture_start(&log);
	for (int s = 0; s < 10; s++)
		standing_note(&standing, SCAN_OUTCOME_FULL, at(s), "");
	for (int s = 10; s < 7870; s++)
		standing_note(
		    &standing, SCAN_OUTCOME_SILENT, at(s), "timed out after 1000 ms");
	standing_note(&standing, SCAN_OUTCOME_FULL, at(7870), "");
	capture_end(&log);
	assert_int_equal(capture_count(&log, "\n"), 3);
	assert_int_equal(capture_count(&log, "device 'plc' answers\n"), 1);
	assert_int_equal(
	    capture_count(&log, "device 'plc' silent: timed out after 1000 ms\n"), 1);
	assert_int_equal(capture_count(&log, "device 'plc' answers again after 2 h 11 "
					     "min, 7860 reads failed\n"),
	    1);
}

static void
part_of_an_answer_is_a_state_of_its_own(void **state)
{
	static struct capture log;
	struct standing standing;

	(void)state;
	standing_init(&standing, "plc");
	capture_start(&log);
	standing_note(&standing, SCAN_OUTCOME_SILENT, at(0), "no");
	standing_note(&standing, SCAN_OUTCOME_PART, at(1), "exception 2");
	standing_note(&standing, SCAN_OUTCOME_PART, at(2), "exception 2");
	standing_note(&standing, SCAN_OUTCOME_FULL, at(200), "");
	standing_note(&standing, SCAN_OUTCOME_SILENT, at(201), "no");
	standing_note(&standing, SCAN_OUTCOME_FULL, at(202), "");
	capture_end(&log);
	assert_int_equal(capture_count(&log, "\n"), 5);
	assert_int_equal(capture_count(&log, "answers in part: exception 2"), 1);
	assert_int_equal(
	    capture_count(&log, "answers again after 3 min 20 s, 3 reads failed"), 1);
	assert_int_equal(
	    capture_count(&log, "answers again after 1.0 s, 1 reads failed"), 1);
}

/* A loose plug, for an hour: not a line each time. */
static void
one_that_comes_and_goes_is_told_a_few_times(void **state)
{
	static struct capture log;
	struct standing standing;
	int s;

	(void)state;
	standing_init(&standing, "plc");
	capture_start(&log);
	for (s = 0; s < 3600; s++)
		standing_note(&standing,
		    s / 5 % 2 ? SCAN_OUTCOME_SILENT : SCAN_OUTCOME_FULL, at(s), "no");
	for (; s < 3595 + 600; s++) /* the last change was at 3595 */
		standing_note(&standing, SCAN_OUTCOME_SILENT, at(s), "no");
	capture_end(&log);
	assert_int_equal(capture_count(&log, "\n"), STANDING_CHANGES + 1);
	assert_int_equal(capture_count(&log, "device 'plc' comes and goes"), 1);
	capture_start(&log);
	for (; s < 7200; s++)
		standing_note(&standing, SCAN_OUTCOME_SILENT, at(s), "no");
	standing_note(&standing, SCAN_OUTCOME_FULL, at(s), "");
	capture_end(&log);
	assert_int_equal(capture_count(&log, "\n"), 3);
	assert_int_equal(
	    capture_count(&log, "has stayed as it is for 10 min, after 714 more"), 1);
	assert_int_equal(capture_count(&log, "device 'plc' silent: no"), 1);
	assert_int_equal(capture_count(&log, "device 'plc' answers again after"), 1);
}

/* One change an hour is told of for ever. */
static void
changes_that_lie_apart_are_all_told(void **state)
{
	static struct capture log;
	struct standing standing;

	(void)state;
	standing_init(&standing, "plc");
	capture_start(&log);
	for (int s = 0; s < 50 * 3600; s += 60)
		standing_note(&standing,
		    s / 3600 % 2 ? SCAN_OUTCOME_SILENT : SCAN_OUTCOME_FULL, at(s),
		    "no");
	capture_end(&log);
	assert_int_equal(capture_count(&log, "\n"), 50);
}

/* Three weeks, a quarter of an hour away and as long back: lines a day are bounded. */
static void
one_that_comes_and_goes_for_weeks_fills_no_log(void **state)
{
	static struct capture log;
	struct standing standing;
	int64_t s = 0;

	(void)state;
	standing_init(&standing, "plc");
	for (int day = 0; day < 21; day++) {
		capture_start(&log);
		for (; s < (day + 1) * 86400; s += 15)
			standing_note(&standing,
			    s / 900 % 2 ? SCAN_OUTCOME_SILENT : SCAN_OUTCOME_FULL,
			    at(s), "no");
		capture_end(&log);
		assert_in_range(
		    capture_count(&log, "\n"), 1, day == 0 ? STANDING_DAY + 1 : 1);
		assert_int_equal(capture_count(&log, "still comes and goes"), day > 0);
	}
	capture_start(&log);
	for (int64_t end = s + 7 * 3600; s < end; s += 15)
		standing_note(&standing, SCAN_OUTCOME_SILENT, at(s), "no");
	capture_end(&log);
	assert_int_equal(capture_count(&log, "\n"), 2);
	assert_int_equal(capture_count(&log, "has stayed as it is for 6 h"), 1);
	assert_int_equal(capture_count(&log, "device 'plc' silent: no"), 1);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_state_that_stays_is_told_once),
	    cmocka_unit_test(part_of_an_answer_is_a_state_of_its_own),
	    cmocka_unit_test(one_that_comes_and_goes_is_told_a_few_times),
	    cmocka_unit_test(changes_that_lie_apart_are_all_told),
	    cmocka_unit_test(one_that_comes_and_goes_for_weeks_fills_no_log),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
