/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/lettering.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/base/utf8.h"

static const struct canvas_letters letters = {.size = 10};

static void
what_fits_stays_whole_and_the_rest_is_shortened(void **state)
{
	static const char words[] = "K\xc3\xa4lte in \xe2\x84\x83, lot A-0412";
	char to[LETTERING_ROOM];

	(void)state;
	lettering_fit(&letters, words, canvas_text_width(&letters, words), to);
	assert_string_equal(to, words);
	for (int width = 0; width < 150; width++) {
		lettering_fit(&letters, words, width, to);
		assert_true(canvas_text_width(&letters, to) <= width);
		assert_true(utf8_is_valid(to, strlen(to)));
		if (to[0] != '\0' && strcmp(to, words) != 0)
			assert_non_null(strstr(to, "\xe2\x80\xa6"));
	}
}

static void
lines_break_at_blanks_and_lose_no_word(void **state)
{
	static const char words[] =
	    "stable and inside its limits, but not established as capable";

	(void)state;
	for (int width = 70; width < 400; width += 7) {
		char line[LETTERING_ROOM];
		const char *left = words;
		size_t at = 0;
		while (lettering_line(&letters, &left, width, line)) {
			assert_true(canvas_text_width(&letters, line) <= width);
			assert_memory_equal(words + at, line, strlen(line));
			at += strlen(line) + 1; /* the blank */
		}
		assert_int_equal(at, sizeof words);
	}
}

static void
a_word_too_long_for_a_line_is_shortened(void **state)
{
	char line[LETTERING_ROOM];
	const char *left = "Waermeausdehnungskoeffizient ist lang";

	(void)state;
	assert_true(lettering_line(&letters, &left, 60, line));
	assert_non_null(strstr(line, "\xe2\x80\xa6"));
	assert_true(lettering_line(&letters, &left, 60, line));
	assert_string_equal(line, "ist lang");
	assert_false(lettering_line(&letters, &left, 60, line));
}

static void
numbers_say_no_less_and_no_more_than_asked(void **state)
{
	static const struct {
		double value;
		int digits;
		bool shortest;
		const char *words;
	} rows[] = {
	    {190, 1, false, "190.0"},
	    {190, 3, true, "190"},
	    {190.25, 3, true, "190.25"},
	    {-0.0001, 1, false, "0.0"},
	    {-0.0001, 3, true, "0"},
	    {100, 0, true, "100"},
	    {1e9 + 0.5, 1, false, "1000000000.5"},
	    {1e140, 0, false, "1e+140"},
	    {2e-12, 13, false, "2e-12"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		char to[LETTERING_NUMBER];
		lettering_number(rows[i].value, rows[i].digits, rows[i].shortest, to);
		assert_string_equal(to, rows[i].words);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_fits_stays_whole_and_the_rest_is_shortened),
	    cmocka_unit_test(lines_break_at_blanks_and_lose_no_word),
	    cmocka_unit_test(a_word_too_long_for_a_line_is_shortened),
	    cmocka_unit_test(numbers_say_no_less_and_no_more_than_asked),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
