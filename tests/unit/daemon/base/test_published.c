/* SPDX-License-Identifier: GPL-3.0-or-later */
/* That what tests hold against values from outside can fail, and is written down rightly. */
#include "tests/unit/published.h"

#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

/* What the child's test does, and the rows that it left. */
static char rows[1000];

/* Whether a test of these lines passes, in a process of its own. */
static bool
passes(void (*lines)(void **))
{
	char path[] = "/tmp/evensoak-published-XXXXXX";
	int file = mkstemp(path), status = 0;
	pid_t child;
	ssize_t length;

	assert_true(file >= 0);
	child = fork();
	assert_true(child >= 0);
	if (child == 0) {
		const struct CMUnitTest tests[] = {cmocka_unit_test(lines)};

		setenv("EVENSOAK_PUBLISHED", path, 1);
		if (!freopen("/dev/null", "w", stdout) ||
		    !freopen("/dev/null", "w", stderr))
			_exit(99);
		_exit(cmocka_run_group_tests(tests, NULL, NULL));
	}
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_true(WIFEXITED(status) && WEXITSTATUS(status) <= 1);
	length = read(file, rows, sizeof rows - 1);
	assert_true(length >= 0);
	rows[length] = '\0';
	close(file);
	unlink(path);
	return WEXITSTATUS(status) == 0;
}

static void
hold_one(void **state)
{
	(void)state;
	published(SOURCE_KELL, "one", 1.25, 1.5, 0.25);
}

static void
hold_wrong(void **state)
{
	(void)state;
	published(SOURCE_KELL, "one", 1.25, 1.5, 0.2);
}

static void
hold_nan(void **state)
{
	(void)state;
	published(SOURCE_KELL, "none", (double)NAN, 1.5, (double)INFINITY);
}

static void
hold_many(void **state)
{
	struct published_table table = published_begin(SOURCE_KELL, "many");

	(void)state;
	published_add(&table, 1.5, 1, 1);
	published_add(&table, 7.75, 8, 0.25);
	published_add(&table, 3, 0, 100);
	published_end(&table);
}

static void
hold_nothing(void **state)
{
	struct published_table table = published_begin(SOURCE_KELL, "nothing");

	(void)state;
	published_end(&table);
}

static void
hold_many_of_which_one_is_wrong(void **state)
{
	struct published_table table = published_begin(SOURCE_KELL, "many");

	(void)state;
	published_add(&table, 1, 1, 0);
	published_add(&table, 2, 4, 1);
	published_add(&table, 5, 5, 0);
	published_end(&table);
}

static void
hold_bytes(void **state)
{
	(void)state;
	published_same(SOURCE_KELL, "bytes", "abc", "abd", 3);
}

#define KELL "0\tG. S. Kell, Journal of Chemical and Engineering Data 20:97-105, 1975\t"
#define HERE "tests/unit/daemon/base/test_published.c\t"

static void
what_is_held_is_written_down(void **state)
{
	(void)state;
	assert_true(passes(hold_one));
	assert_string_equal(rows, KELL HERE "one\t1\t1.5\t1.25\t0.25\tyes\n");
}

static void
of_many_the_nearest_to_its_tolerance_is_shown(void **state)
{
	(void)state;
	assert_true(passes(hold_many));
	assert_string_equal(rows, KELL HERE "many\t3\t8\t7.75\t0.25\tyes\n");
}

static void
what_is_wrong_fails_and_is_written_down(void **state)
{
	(void)state;
	assert_false(passes(hold_wrong));
	assert_non_null(strstr(rows, "one\t1\t1.5\t1.25\t0.2"));
	assert_non_null(strstr(rows, "\tno\n"));
	assert_false(passes(hold_nan));
	assert_non_null(strstr(rows, "\tno\n"));
	assert_false(passes(hold_many_of_which_one_is_wrong));
	assert_string_equal(rows, KELL HERE "many\t2\t4\t2\t1\tno\n");
	assert_false(passes(hold_bytes));
	assert_string_equal(rows, KELL HERE "bytes\t1\t3\t2\t0\tno\n");
}

static void
a_table_of_nothing_fails(void **state)
{
	(void)state;
	assert_false(passes(hold_nothing));
	assert_string_equal(rows, "");
}

static void
every_source_has_a_name_of_its_own(void **state)
{
	(void)state;
	for (int i = 0; i < SOURCE_COUNT; i++) {
		assert_non_null(source_table[i].name);
		assert_true(strlen(source_table[i].name) > 5);
		assert_null(strchr(source_table[i].name, '\t'));
		for (int j = 0; j < i; j++)
			assert_string_not_equal(
			    source_table[i].name, source_table[j].name);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_is_held_is_written_down),
	    cmocka_unit_test(of_many_the_nearest_to_its_tolerance_is_shown),
	    cmocka_unit_test(what_is_wrong_fails_and_is_written_down),
	    cmocka_unit_test(a_table_of_nothing_fails),
	    cmocka_unit_test(every_source_has_a_name_of_its_own),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
