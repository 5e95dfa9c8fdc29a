/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/log.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

/* What was logged since collect_start(), whole. */
static char logged[8192];
static int kept_stderr, ends[2];

static void
collect_start(void)
{
	assert_int_equal(pipe(ends), 0);
	kept_stderr = dup(STDERR_FILENO);
	assert_true(kept_stderr >= 0);
	assert_int_equal(dup2(ends[1], STDERR_FILENO), STDERR_FILENO);
}

static void
collect_end(void)
{
	ssize_t length;

	assert_int_equal(dup2(kept_stderr, STDERR_FILENO), STDERR_FILENO);
	close(kept_stderr);
	close(ends[1]);
	length = read(ends[0], logged, sizeof(logged) - 1);
	assert_true(length >= 0);
	logged[length] = '\0';
	close(ends[0]);
}

static void
under_systemd_a_line_has_its_priority(void **state)
{
	(void)state;
	setenv("JOURNAL_STREAM", "8:1", 1);
	collect_start();
	log_error("a %d", 1);
	log_warnx("b");
	log_info("c");
	log_debug("d");
	collect_end();
	assert_string_equal(logged, "<3>a 1\n<4>b\n<6>c\n");
}

static void
elsewhere_a_line_has_its_time(void **state)
{
	int year, month, day, hour, minute, end = 0;
	double second;

	(void)state;
	unsetenv("JOURNAL_STREAM");
	collect_start();
	log_info("a");
	collect_end();
	assert_int_equal(sscanf(logged, "%4d-%2d-%2dT%2d:%2d:%6lfZ a%n", &year, &month,
			     &day, &hour, &minute, &second, &end),
	    6);
	assert_string_equal(logged + end, "\n");
}

static void
the_level_decides_what_is_written(void **state)
{
	(void)state;
	setenv("JOURNAL_STREAM", "8:1", 1);
	collect_start();
	log_set_level(LOG_LEVEL_DEBUG);
	log_debug("a");
	log_set_level(LOG_LEVEL_ERROR);
	log_warnx("b");
	log_error("c");
	log_set_level(LOG_LEVEL_INFO);
	collect_end();
	assert_string_equal(logged, "<7>a\n<3>c\n");
}

static void
only_log_warn_tells_errno_and_all_keep_it(void **state)
{
	(void)state;
	setenv("JOURNAL_STREAM", "8:1", 1);
	collect_start();
	errno = ENOSPC;
	log_warnx("a");
	log_warn("b");
	log_error("c");
	assert_int_equal(errno, ENOSPC);
	collect_end();
	assert_string_equal(logged, "<4>a\n<4>b: No space left on device\n<3>c\n");
}

static void
a_line_stays_one_line_however_long(void **state)
{
	char text[5000];

	(void)state;
	memset(text, 'x', sizeof(text));
	text[sizeof(text) - 1] = '\0';
	text[1] = '\n';
	setenv("JOURNAL_STREAM", "8:1", 1);
	collect_start();
	log_info("%s", text);
	collect_end();
	assert_memory_equal(logged, "<6>x x", 6);
	assert_true(strlen(logged) > 1000 && strlen(logged) < sizeof(text));
	assert_ptr_equal(strchr(logged, '\n'), logged + strlen(logged) - 1);
}

/* Else the journal hides the line, and a terminal obeys it. */
static void
a_line_steers_nothing_whatever_is_in_it(void **state)
{
	(void)state;
	setenv("JOURNAL_STREAM", "8:1", 1);
	collect_start();
	log_warnx("store says '%s'", "\x1b]0;gone\a\n<0>\xc2\x9b\xff\xe2\x80\xae.");
	collect_end();
	assert_string_equal(logged, "<4>store says '?]0;gone? <0>???.'\n");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(under_systemd_a_line_has_its_priority),
	    cmocka_unit_test(elsewhere_a_line_has_its_time),
	    cmocka_unit_test(the_level_decides_what_is_written),
	    cmocka_unit_test(only_log_warn_tells_errno_and_all_keep_it),
	    cmocka_unit_test(a_line_stays_one_line_however_long),
	    cmocka_unit_test(a_line_steers_nothing_whatever_is_in_it),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
