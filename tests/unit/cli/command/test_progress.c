/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/progress.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

static void
pause_s(double s)
{
	const struct timespec left = {(time_t)s, (long)((s - (double)(time_t)s) * 1e9)};

	nanosleep(&left, NULL);
}

static void
what_is_soon_over_says_nothing(void **state)
{
	char *text = NULL;
	size_t length;
	FILE *to = open_memstream(&text, &length);

	(void)state;
	struct progress *progress = progress_start_on(to, 60);
	assert_non_null(progress);
	progress_tell(progress, "asked 1 of 2 ...");
	progress_end(progress);
	fclose(to);
	assert_string_equal(text, "");
	free(text);
}

static void
what_takes_long_says_how_far_it_is_and_wipes_it(void **state)
{
	static const char wiped[] = "\r\033[K";
	char *text = NULL;
	size_t length;
	FILE *to = open_memstream(&text, &length);

	(void)state;
	struct progress *progress = progress_start_on(to, 0.05);
	assert_non_null(progress);
	progress_tell(progress, "asked %d of %d ...", 1, 2);
	pause_s(0.5);
	progress_tell(progress, "asked %d of %d ...", 2, 2);
	pause_s(0.5);
	progress_end(progress);
	fclose(to);
	assert_non_null(strstr(text, "\rasked 1 of 2 ...\033[K"));
	assert_non_null(strstr(text, "\rasked 2 of 2 ...\033[K"));
	assert_true(length > sizeof wiped);
	assert_string_equal(text + length - strlen(wiped), wiped);
	free(text);
}

static void
what_is_no_terminal_gets_no_progress(void **state)
{
	FILE *to = tmpfile();

	(void)state;
	assert_null(progress_start(to, 0));
	progress_tell(NULL, "asked %d", 1);
	progress_end(NULL);
	fclose(to);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_is_soon_over_says_nothing),
	    cmocka_unit_test(what_takes_long_says_how_far_it_is_and_wipes_it),
	    cmocka_unit_test(what_is_no_terminal_gets_no_progress),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
