/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plain words as mdoc. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "contrib/man/mdoc.h"

static char *made;

/* Begins to catch what is written. */
static FILE *
catch_from(size_t *length)
{
	FILE *out = open_memstream(&made, length);

	assert_non_null(out);
	return out;
}

#define assert_made(call, expected)                      \
	do {                                             \
		size_t length_of_made;                   \
		FILE *out = catch_from(&length_of_made); \
		call;                                    \
		assert_int_equal(fclose(out), 0);        \
		assert_string_equal(made, expected);     \
		free(made);                              \
	} while (0)

static void
what_roff_would_take_for_its_own_is_escaped(void **state)
{
	(void)state;
	assert_made(mdoc_text(out, ".TH 'x' a\\b \"c\" ^~`"),
	    "\\&.TH \\(aqx\\(aq a\\eb \\(dqc\\(dq \\(ha\\(ti\\(ga\n");
	assert_made(mdoc_text(out, "'quoted' first"), "\\(aqquoted\\(aq first\n");
	assert_made(mdoc_argument(out, "Ar No .5"), " \\&Ar \\&No \\&.5");
}

static void
a_sentence_has_a_line_of_its_own(void **state)
{
	(void)state;
	assert_made(mdoc_text(out, "One.  Two: 0.5 (three.) Four ... five"),
	    "One.\nTwo: 0.5 (three.)\nFour \\&... five\n");
	assert_made(mdoc_text(out, ""), "");
}

static void
no_line_is_longer_than_a_terminal(void **state)
{
	size_t length;
	FILE *out = catch_from(&length);

	(void)state;
	for (int i = 0; i < 40; i++)
		mdoc_text(out, "with --option-that-is-long and 'quoted words' of "
			       "several kinds, one behind the other, as in a table of "
			       "options that goes on");
	fclose(out);
	for (char *rest, *line = strtok_r(made, "\n", &rest); line;
	     line = strtok_r(NULL, "\n", &rest))
		assert_in_range(strlen(line), 1, 80);
	free(made);
}

static void
options_are_set_apart(void **state)
{
	(void)state;
	assert_made(mdoc_text(out, "with --dry-run, ('--all') or -1"),
	    "with \\fB\\-\\-dry\\-run\\fP, (\\(aq\\fB\\-\\-all\\fP\\(aq) or \\-1\n");
	assert_made(mdoc_text(out, "a -- b"), "a \\-- b\n");
}

static void
a_sentence_begins_and_ends_as_one(void **state)
{
	(void)state;
	assert_made(mdoc_sentence(out, "this line alone"), "This line alone.\n");
	assert_made(
	    mdoc_sentence(out, "tool_mean_c minus that"), "tool_mean_c minus that.\n");
	assert_made(mdoc_sentence(out, "text, json or csv"), "text, json or csv.\n");
	assert_made(mdoc_sentence(out, "who answers?"), "Who answers?\n");
	assert_made(mdoc_sentence(out, ""), "");
}

static void
help_keeps_its_paragraphs_and_displays(void **state)
{
	(void)state;
	assert_made(mdoc_help(out,
			"Without arguments: all\nof them.\n"
			"keep: a run.\n--dry-run keeps none.\n\nThen:\n  cd 'x' &&\n  "
			".run\nDone.",
			"[keep NAME | show RUN]"),
	    "Without arguments: all of them.\n.Pp\nkeep: a run.\n.Pp\n"
	    "\\fB\\-\\-dry\\-run\\fP keeps none.\n.Pp\nThen:\n"
	    ".Bd -literal -offset indent\ncd \\(aqx\\(aq "
	    "&&\n\\&.run\n.Ed\n.Pp\nDone.\n");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_roff_would_take_for_its_own_is_escaped),
	    cmocka_unit_test(a_sentence_has_a_line_of_its_own),
	    cmocka_unit_test(no_line_is_longer_than_a_terminal),
	    cmocka_unit_test(options_are_set_apart),
	    cmocka_unit_test(a_sentence_begins_and_ends_as_one),
	    cmocka_unit_test(help_keeps_its_paragraphs_and_displays),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
