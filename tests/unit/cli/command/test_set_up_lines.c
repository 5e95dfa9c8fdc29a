/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/command/plant.h"

#include "cli/command/set_up_lines.h"

static char told[2048];

static void
take(void *arg, const struct set_up_line *line)
{
	size_t used = strlen(told);

	(void)arg;
	snprintf(told + used, sizeof told - used, "%c%s|%s\n", line->added ? '+' : '-',
	    line->section, line->text);
}

static void
expect(const char *earlier, const char *later, const char *wanted)
{
	char *was = strdup(earlier), *is = strdup(later);

	told[0] = '\0';
	assert_true(set_up_lines_compare(was, is, take, NULL));
	assert_string_equal(told, wanted);
	free(was);
	free(is);
}

static void
equal_texts_differ_in_no_line(void **state)
{
	(void)state;
	expect("", "", "");
	expect("[a]\nx = 1\n", "[a]\nx = 1\n", "");
	expect("[a]\nx = 1\n", "; why\n\n  [a]  \r\n\n# how\nx = 1", "");
}

static void
a_changed_line_is_told_with_its_section(void **state)
{
	(void)state;
	expect("[a]\nx = 1\ny = 2\n[b]\nx = 1\n", "[a]\nx = 1\ny = 2\n[b]\nx = 3\n",
	    "-[b]|x = 1\n+[b]|x = 3\n");
	expect("t = 1\n[a]\nx = 1\n", "t = 2\n[a]\nx = 1\n", "-|t = 1\n+|t = 2\n");
}

static void
lines_that_stay_in_order_are_no_difference(void **state)
{
	(void)state;
	/* [b] is new, x of [a] gone, the equal lines around them stay */
	expect("[a]\nx = 1\ny = 2\n[c]\ny = 2\n",
	    "[a]\ny = 2\n[b]\ny = 2\n[c]\ny = 2\n",
	    "-[a]|x = 1\n+[b]|[b]\n+[b]|y = 2\n");
	expect("", "[a]\n", "+[a]|[a]\n");
	expect("[a]\n", "", "-[a]|[a]\n");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(equal_texts_differ_in_no_line),
	    cmocka_unit_test(a_changed_line_is_told_with_its_section),
	    cmocka_unit_test(lines_that_stay_in_order_are_no_difference),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
