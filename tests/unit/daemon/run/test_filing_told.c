/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What people told is asked of the ledger as a record is made, and fails none. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/run/filing_fixture.h"

#include "daemon/shot/circumstances.h"

/* --- what people told ---------------------------------------------------------------- */

static struct circumstances
told(void)
{
	struct circumstances circumstances = {.recipe = 4711};

	filing_circumstances(filing, 0, 12, fixture_time(5), &circumstances);
	return circumstances;
}

static void
assert_untold(void)
{
	struct circumstances nothing = told();

	assert_int_equal(nothing.recipe, 12);
	assert_string_equal(nothing.material, "abs");
	assert_string_equal(nothing.tool, "");
	assert_true(isnan(nothing.thickness_m));
	assert_null(nothing.correction);
}

static void
assert_told(void)
{
	struct circumstances now = told();

	assert_string_equal(now.tool, "T-7");
	assert_non_null(now.correction);
	assert_true(now.correction[1] == -1.5 && now.correction[0] == 0);
}

/* As a command does, while the daemon has the ledger open. */
static void
tell_from_outside(void)
{
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);
	int64_t relabelled;

	assert_non_null(ledger);
	assert_int_equal(ledger_put_context(ledger,
			     &(struct ledger_entry){"line-1", CONTEXT_TOOL, "T-7",
				 fixture_time(0), fixture_time(0)},
			     &relabelled, &error),
	    0);
	assert_int_equal(ledger_put_calibration(ledger,
			     &(struct ledger_calibration){.line = "line-1",
				 .device = "plc-1",
				 .channel = "tool_2",
				 .at = fixture_time(0),
				 .as_found = NAN,
				 .as_left = 1.5},
			     &error),
	    0);
	ledger_close(ledger);
}

static void
what_was_entered_holds_from_the_next_record_on(void **state)
{
	(void)state;
	assert_untold(); /* the line is not even on file */
	put_shot(1);
	assert_true(filing_write(filing, false));
	assert_untold();
	tell_from_outside();
	assert_told();
}

/* The lines on the log while `run` runs. */
static int
logged(void (*run)(void))
{
	FILE *log = tmpfile();
	int before = dup(STDERR_FILENO), lines = 0, c;

	assert_non_null(log);
	assert_true(before >= 0 && dup2(fileno(log), STDERR_FILENO) >= 0);
	log_set_level(LOG_LEVEL_INFO);
	run();
	log_set_level(LOG_LEVEL_ERROR - 1);
	fflush(stderr);
	assert_true(dup2(before, STDERR_FILENO) >= 0);
	close(before);
	rewind(log);
	while ((c = fgetc(log)) != EOF)
		lines += c == '\n';
	fclose(log);
	return lines;
}

static void
ask_three_times(void)
{
	for (int i = 0; i < 3; i++)
		assert_untold();
}

static void
a_ledger_that_cannot_tell_fails_no_shot_and_is_told_once(void **state)
{
	(void)state;
	put_shot(1);
	assert_true(filing_write(filing, false));
	tell_from_outside();
	assert_int_equal(logged(assert_told), 0);
	run_outside("ALTER TABLE calibration RENAME TO away");
	assert_int_equal(logged(ask_three_times), 1);
	put_shot(2);
	assert_true(filing_write(filing, false));
	run_outside("ALTER TABLE away RENAME TO calibration");
	assert_int_equal(logged(assert_told), 1); /* again */
	assert_int_equal(logged(assert_told), 0);
}

static void
a_ledger_that_is_not_open_yet_has_nothing_to_tell(void **state)
{
	(void)state;
	filing_free(filing);
	unlink(fixture.path);
	fault.code = SQLITE_FULL;
	fault.left = 0;
	filing = filing_open(&fixture.settings, &error);
	assert_non_null(filing);
	assert_int_equal(status().open, 0);
	assert_int_equal(logged(ask_three_times), 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    FILED(what_was_entered_holds_from_the_next_record_on),
	    FILED(a_ledger_that_cannot_tell_fails_no_shot_and_is_told_once),
	    FILED(a_ledger_that_is_not_open_yet_has_nothing_to_tell),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
