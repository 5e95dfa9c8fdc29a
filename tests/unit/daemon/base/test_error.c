/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/error.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static void
setting_returns_the_code_and_keeps_the_sentence(void **state)
{
	struct error error;

	(void)state;
	assert_int_equal(
	    error_set(&error, ERROR_IO, "cannot read '%s'", "x"), ERROR_IO);
	assert_string_equal(error.text, "cannot read 'x'");
	assert_int_equal(error_set(NULL, ERROR_FULL, "unheard"), ERROR_FULL);
}

static void
prefixes_stand_before_what_there_is(void **state)
{
	struct error error;

	(void)state;
	error_set(&error, ERROR_TIMEOUT, "timed out after %d ms", 1000);
	assert_int_equal(
	    error_prefix(&error, ERROR_IO, "read %d..%d", 40001, 40012), ERROR_IO);
	error_prefix(&error, ERROR_IO, "line '%s'", "press-3");
	assert_string_equal(
	    error.text, "line 'press-3': read 40001..40012: timed out after 1000 ms");
	assert_int_equal(error_prefix(NULL, ERROR_IO, "unheard"), ERROR_IO);
}

static void
the_old_sentence_may_be_part_of_the_new(void **state)
{
	struct error error;

	(void)state;
	error_set(&error, ERROR_IO, "b");
	error_set(&error, ERROR_IO, "a, %s, c", error.text);
	assert_string_equal(error.text, "a, b, c");
}

static void
a_sentence_too_long_is_cut(void **state)
{
	struct error error;
	char text[1000];

	(void)state;
	memset(text, 'x', sizeof(text));
	text[sizeof(text) - 1] = '\0';
	error_set(&error, ERROR_IO, "%s", text);
	assert_int_equal(strlen(error.text), sizeof(error.text) - 1);
	error_prefix(&error, ERROR_IO, "%s", text);
	assert_int_equal(strlen(error.text), sizeof(error.text) - 1);
}

/* What a store or a device says is in sentences, and they go to terminals. */
static void
a_sentence_is_one_line_that_steers_nothing(void **state)
{
	struct error error;

	(void)state;
	error_set(&error, ERROR_REFUSED, "answers: %s", "\x1b[2J\nno\xff");
	assert_string_equal(error.text, "answers: ?[2J no?");
	error_prefix(&error, ERROR_REFUSED, "store '%s'", "\xc2\x9bx\a");
	assert_string_equal(error.text, "store '?x?': answers: ?[2J no?");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(setting_returns_the_code_and_keeps_the_sentence),
	    cmocka_unit_test(prefixes_stand_before_what_there_is),
	    cmocka_unit_test(the_old_sentence_may_be_part_of_the_new),
	    cmocka_unit_test(a_sentence_too_long_is_cut),
	    cmocka_unit_test(a_sentence_is_one_line_that_steers_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
