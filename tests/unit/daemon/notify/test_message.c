/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/notify/message.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/base/text.h"

static struct message *message;

static int
set_up(void **state)
{
	(void)state;
	message = calloc(1, sizeof *message);
	return message == NULL;
}

static int
tear_down(void **state)
{
	(void)state;
	free(message);
	return 0;
}

/* 2026-03-02 10:00 UTC and so many seconds. */
static struct wall
at(int64_t s)
{
	return (struct wall){(INT64_C(1772445600) + s) * CLOCK_SECOND_NS};
}

static void
add(int64_t s, const char *line, const char *kind, const char *text)
{
	struct ledger_event event = {.at = at(s)};

	text_copy(event.line, sizeof event.line, line);
	text_copy(event.kind, sizeof event.kind, kind);
	text_copy(event.text, sizeof event.text, text);
	message_add(message, &event);
}

static const char *
variable(const char *name)
{
	size_t length = strlen(name);

	for (size_t i = 0; message->environment[i] != NULL; i++)
		if (strncmp(message->environment[i], name, length) == 0 &&
		    message->environment[i][length] == '=')
			return message->environment[i] + length + 1;
	fail_msg("there is no %s", name);
	return NULL;
}

static void
one_event_is_told_whole(void **state)
{
	(void)state;
	add(5, "line-3", "finding", "zone 3 of the top gives nothing; since shot 81");
	message_write(message, "works");
	assert_string_equal(variable("PATH"),
	    "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin");
	assert_string_equal(variable("LANG"), "C.UTF-8");
	assert_string_equal(variable("EVENSOAK_SITE"), "works");
	assert_string_equal(variable("EVENSOAK_COUNT"), "1");
	assert_string_equal(variable("EVENSOAK_KIND"), "finding");
	assert_string_equal(variable("EVENSOAK_LINE"), "line-3");
	assert_string_equal(variable("EVENSOAK_AT"), "2026-03-02T10:00:05Z");
	assert_string_equal(variable("EVENSOAK_TEXT"),
	    "zone 3 of the top gives nothing; since shot 81");
	assert_null(message->environment[MESSAGE_VARIABLES]);
	assert_string_equal(message->input, "2026-03-02T10:00:05Z line-3 finding zone "
					    "3 of the top gives nothing; since "
					    "shot 81\n");
}

static void
several_are_a_line_each(void **state)
{
	(void)state;
	add(0, "", "device_silent", "device 'a' does not answer: timed out");
	add(1, "line-4", "fault", "the machine reports a fault");
	message_write(message, "works");
	assert_string_equal(variable("EVENSOAK_COUNT"), "2");
	assert_string_equal(variable("EVENSOAK_LINE"), "");
	assert_string_equal(variable("EVENSOAK_TEXT"),
	    "2 events, the first: device 'a' does not answer: timed out");
	assert_string_equal(message->input,
	    "2026-03-02T10:00:00Z - device_silent device 'a' does not answer: timed "
	    "out\n"
	    "2026-03-02T10:00:01Z line-4 fault the machine reports a fault\n");
}

static void
beyond_its_room_they_are_counted(void **state)
{
	char longest[256];

	(void)state;
	memset(longest, 'x', 255);
	longest[255] = '\0';
	for (int i = 0; i < MESSAGE_EVENTS + 7; i++)
		add(i, longest, longest, longest);
	assert_int_equal(message_count(message), MESSAGE_EVENTS + 7);
	message_write(message, "works");
	assert_string_equal(variable("EVENSOAK_COUNT"), "57");
	assert_non_null(
	    strstr(message->input, "\nand 7 more: see 'evensoak status'\n"));
	int lines = 0;
	for (const char *c = message->input; *c; c++)
		lines += *c == '\n';
	assert_int_equal(lines, MESSAGE_EVENTS + 1);
}

static void
what_steers_a_terminal_or_makes_a_line_is_not_passed_on(void **state)
{
	(void)state;
	add(0, "", "finding", "a\nSubject: b\r\n\033[2J\x80 c\tm\xc3\xa9");
	message_write(message, "works");
	assert_string_equal(
	    variable("EVENSOAK_TEXT"), "a Subject: b  ?[2J? c m\xc3\xa9");
	assert_string_equal(message->input,
	    "2026-03-02T10:00:00Z - finding a Subject: b  ?[2J? c m\xc3\xa9\n");
}

static int64_t from_ns;

static bool
is_old(void *arg, const struct ledger_event *event)
{
	assert_ptr_equal(arg, message);
	return event->at.ns < from_ns;
}

static void
what_is_too_old_goes(void **state)
{
	(void)state;
	add(0, "", "a", "first");
	add(10, "", "b", "second");
	from_ns = at(1).ns;
	assert_false(message_drop_old(message, is_old, message));
	assert_int_equal(message_count(message), 1);
	message_write(message, "works");
	assert_string_equal(variable("EVENSOAK_TEXT"), "second");
	from_ns = at(11).ns;
	assert_false(message_drop_old(message, is_old, message));
	assert_int_equal(message_count(message), 0);
}

/* Those that had no room may be younger. */
static void
with_the_last_that_is_too_old_all_is_read_again(void **state)
{
	(void)state;
	for (int i = 0; i < MESSAGE_EVENTS + 7; i++)
		add(i, "", "a", "text");
	from_ns = at(MESSAGE_EVENTS - 1).ns;
	assert_false(message_drop_old(message, is_old, message));
	assert_int_equal(message_count(message), 1 + 7);
	from_ns = at(MESSAGE_EVENTS).ns;
	assert_true(message_drop_old(message, is_old, message));
	assert_int_equal(message_count(message), 0);
	assert_false(message_drop_old(message, is_old, message));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(one_event_is_told_whole, set_up, tear_down),
	    cmocka_unit_test_setup_teardown(several_are_a_line_each, set_up, tear_down),
	    cmocka_unit_test_setup_teardown(
		beyond_its_room_they_are_counted, set_up, tear_down),
	    cmocka_unit_test_setup_teardown(
		what_steers_a_terminal_or_makes_a_line_is_not_passed_on, set_up,
		tear_down),
	    cmocka_unit_test_setup_teardown(what_is_too_old_goes, set_up, tear_down),
	    cmocka_unit_test_setup_teardown(
		with_the_last_that_is_too_old_all_is_read_again, set_up, tear_down),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
