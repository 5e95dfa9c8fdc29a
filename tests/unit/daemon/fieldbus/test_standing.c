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

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_state_that_stays_is_told_once),
	    cmocka_unit_test(part_of_an_answer_is_a_state_of_its_own),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
