/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a comment in the ledger's SQL speaks of. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "contrib/man/comments.h"
#include "contrib/man/ledger_words.h"
#include "daemon/shot/shot.h"

static struct comments comments;

static void
a_comment_speaks_of_the_column_before_it(void **state)
{
	(void)state;
	comments_read("CREATE TABLE sheet ( -- one each\n"
		      "  id INTEGER PRIMARY KEY,\n"
		      "  at INTEGER NOT NULL, -- when it came,\n"
		      "    -- by the clock (of then)\n"
		      "  wide REAL, long REAL /* in m */, high REAL,\n"
		      "  side TEXT CHECK (side IN ('left', 'right')), -- of two\n"
		      "  UNIQUE (at, side) -- no column\n"
		      ") STRICT",
	    &comments);
	assert_string_equal(comments.table, "one each");
	assert_int_equal(comments.count, 6);
	assert_string_equal(comments_of(&comments, "id"), "");
	assert_string_equal(
	    comments_of(&comments, "at"), "when it came, by the clock (of then)");
	assert_string_equal(comments_of(&comments, "wide"), "");
	assert_string_equal(comments_of(&comments, "long"), "in m");
	assert_string_equal(comments_of(&comments, "high"), "");
	assert_string_equal(comments_of(&comments, "side"), "of two");
	assert_string_equal(comments_of(&comments, "UNIQUE"), "");
}

static void
a_column_that_was_added_has_its_own(void **state)
{
	char text[COMMENTS_TEXT];

	(void)state;
	assert_true(comments_added("ALTER TABLE sheet ADD COLUMN lot TEXT /* as\n"
				   "    entered */",
	    "sheet", "lot", text));
	assert_string_equal(text, "as entered");
	assert_true(comments_added(
	    "ALTER TABLE sheet ADD COLUMN lot TEXT", "sheet", "lot", text));
	assert_string_equal(text, "");
	assert_false(comments_added(
	    "ALTER TABLE sheet ADD COLUMN lots TEXT /* no */", "sheet", "lot", text));
	assert_false(comments_added(
	    "ALTER TABLE sheets ADD COLUMN lot TEXT /* no */", "sheet", "lot", text));
	assert_string_equal(text, "");
}

/* The page lists them in its own words: by hand, so it is held against the program. */
static void
every_outcome_and_flag_is_told(void **state)
{
	const char *outcomes = ledger_words("shot", "outcome");
	const char *flags = ledger_words("shot", "flags");
	char line[64];

	(void)state;
	for (int i = 0; i < SHOT_OUTCOME_COUNT; i++) {
		snprintf(line, sizeof line, "\n%s ",
		    shot_outcome_text((enum shot_outcome)i));
		assert_non_null(strstr(outcomes, line));
	}
	for (int bit = 0; bit < SHOT_FLAG_BITS; bit++) {
		snprintf(line, sizeof line, "\n%d %s: ", 1 << bit, shot_flag_text(bit));
		assert_non_null(strstr(flags, line));
	}
	snprintf(line, sizeof line, "\n%d ", 1 << SHOT_FLAG_BITS);
	assert_null(strstr(flags, line));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_comment_speaks_of_the_column_before_it),
	    cmocka_unit_test(a_column_that_was_added_has_its_own),
	    cmocka_unit_test(every_outcome_and_flag_is_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
