/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The configuration of a PC that only reads a store. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "conf/notes.h"
#include "conf/settings.h"

static struct problems problems;

static struct settings *
parse(const char *more)
{
	char text[1000];

	snprintf(text, sizeof text,
	    "[site]\nname = works\ntimezone = Europe/Berlin\n"
	    "[limits exit_top_4_c]\nupper = 180 C\n%s",
	    more);
	problems = (struct problems){0};
	return settings_parse(text, "x.ini", &problems);
}

#define STORE "[store plant]\nurl = http://127.0.0.1:8086\ndatabase = plant\n"

static void
take_note(void *arg, const char *sentence)
{
	bool *told = arg;

	*told |= strstr(sentence, "read a store with this") != NULL;
}

static void
a_store_needs_neither_ledger_nor_line(void **state)
{
	struct settings *settings = parse(STORE);
	bool told = false;

	(void)state;
	assert_non_null(settings);
	assert_int_equal(settings->line_count, 0);
	assert_string_equal(settings->ledger, "");
	assert_int_equal(settings->limit_count, 1);
	notes_tell(settings, take_note, &told);
	assert_true(told);
	settings_free(settings);
}

static void
whatever_logs_needs_all(void **state)
{
	static const char *const more[] = {
	    "",
	    STORE "[ledger]\npath = l.db\n",
	    STORE "[bus a]\nport = /dev/ttyUSB0\nbaud = 9600\n",
	};

	(void)state;
	for (size_t i = 0; i < sizeof more / sizeof more[0]; i++) {
		assert_null(parse(more[i]));
		assert_non_null(strstr(problems.list[0].text, "there is no ["));
	}
}

static void
the_example_is_sound(void **state)
{
	struct settings *settings = settings_load("conf/office.ini", &problems);

	(void)state;
	assert_non_null(settings);
	assert_int_equal(settings->store_count, 1);
	assert_int_equal(settings->shift_count, 3);
	settings_free(settings);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_store_needs_neither_ledger_nor_line),
	    cmocka_unit_test(whatever_logs_needs_all),
	    cmocka_unit_test(the_example_is_sound),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
