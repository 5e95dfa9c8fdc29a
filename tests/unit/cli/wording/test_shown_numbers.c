/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/wording/shown_numbers.h"

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "cli/population/population.h"

static struct shown_numbers shown;

static void
runs_are_told_by_their_ends(void **state)
{
	int64_t list[] = {3, 7, 8, 9, 12};
	const struct numbers numbers = {.list = list, .count = 5};
	const struct cell cell = shown_numbers_cell(NULL, &numbers, &shown);

	(void)state;
	assert_string_equal(cell.words, "3, 7-9, 12");
	assert_null(cell.instead);
	shown_numbers_release(&shown);
}

static void
one_long_run_is_told_whole(void **state)
{
	struct numbers numbers = {0};

	(void)state;
	for (int64_t i = 1; i <= 90000; i++)
		assert_true(numbers_add(&numbers, i));
	const struct cell cell = shown_numbers_cell(NULL, &numbers, &shown);
	assert_string_equal(cell.words, "1-90000");
	assert_null(cell.instead);
	shown_numbers_release(&shown);
	free(numbers.list);
}

static void
of_many_runs_people_get_the_first(void **state)
{
	struct numbers numbers = {0};

	(void)state;
	for (int64_t i = 0; i <= SHOWN_RUNS; i++) { /* 1-2, 11-12, ...: one run more */
		assert_true(numbers_add(&numbers, 10 * i + 1));
		assert_true(numbers_add(&numbers, 10 * i + 2));
	}
	const struct cell cell = shown_numbers_cell(NULL, &numbers, &shown);
	const char *end = strstr(cell.words, ", 2991-2992, 3001-3002");
	assert_non_null(end);
	assert_int_equal(strlen(end), strlen(", 2991-2992, 3001-3002"));
	assert_non_null(cell.instead);
	end = strstr(cell.instead, ", 2991-2992 and 2 more");
	assert_non_null(end);
	assert_int_equal(strlen(end), strlen(", 2991-2992 and 2 more"));
	shown_numbers_release(&shown);
	free(numbers.list);
}

int
main(void)
{
	static const struct CMUnitTest tests[] = {
	    cmocka_unit_test(runs_are_told_by_their_ends),
	    cmocka_unit_test(one_long_run_is_told_whole),
	    cmocka_unit_test(of_many_runs_people_get_the_first),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
