/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/terminal.h"

#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "cli/command/command.h"

static int keeper = -1; /* the other side of the terminal */

static FILE *
open_terminal(void)
{
	char name[100];

	keeper = posix_openpt(O_RDWR | O_NOCTTY);
	if (keeper < 0)
		skip();
	assert_int_equal(grantpt(keeper), 0);
	assert_int_equal(unlockpt(keeper), 0);
	assert_int_equal(ptsname_r(keeper, name, sizeof name), 0);
	int terminal = open(name, O_RDWR | O_NOCTTY);
	if (terminal < 0)
		skip();
	FILE *out = fdopen(terminal, "w");
	assert_non_null(out);
	return out;
}

static void
a_terminal_is_known_by_its_descriptor(void **state)
{
	FILE *out = open_terminal(), *file = tmpfile();

	(void)state;
	assert_true(terminal_is(out));
	assert_non_null(file);
	assert_false(terminal_is(file));
	fclose(file);
	fclose(out);
	close(keeper);
}

static void
what_a_terminal_cannot_show_is_refused(void **state)
{
	static const char *const formats[] = {"pdf", "png"};
	char told[1000];

	(void)state;
	for (size_t i = 0; i < 2; i++) {
		char program[] = "evensoak", command[] = "soak", file[] = "none.csv",
		     option[] = "--format", format[8];
		char *const line[] = {program, command, file, option, format, NULL};
		FILE *out = open_terminal();
		FILE *err = fmemopen(told, sizeof told, "w");
		snprintf(format, sizeof format, "%s", formats[i]);
		assert_non_null(err);
		assert_int_equal(command_main(5, line, out, err), COMMAND_USAGE);
		fclose(err);
		fclose(out);
		close(keeper);
		assert_non_null(strstr(told, "write it to a file: > soak.p"));
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_terminal_is_known_by_its_descriptor),
	    cmocka_unit_test(what_a_terminal_cannot_show_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
