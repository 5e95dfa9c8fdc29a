/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/notify/message.h"

#include <assert.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/calendar.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

void
message_add(struct message *message, const struct ledger_event *event)
{
	struct ledger_event *to;

	if (message->count == MESSAGE_EVENTS) {
		message->more++;
		return;
	}
	to = &message->events[message->count++];
	*to = *event;
	utf8_make_plain(to->line);
	utf8_make_plain(to->kind);
	utf8_make_plain(to->text);
}

bool
message_drop_old(struct message *message,
    bool (*is_old)(void *arg, const struct ledger_event *event), void *arg)
{
	size_t kept = 0;

	for (size_t i = 0; i < message->count; i++)
		if (!is_old(arg, &message->events[i]))
			message->events[kept++] = message->events[i];
	message->count = kept;
	if (kept > 0 || message->more == 0)
		return false;
	message->more = 0;
	return true;
}

int64_t
message_count(const struct message *message)
{
	return (int64_t)message->count + message->more;
}

static void __attribute__((format(printf, 2, 3)))
put_variable(struct message *message, const char *format, ...)
{
	size_t i = 0;
	va_list arguments;

	while (message->environment[i] != NULL)
		i++;
	assert(i < MESSAGE_VARIABLES);
	va_start(arguments, format);
	vsnprintf(
	    message->variables[i], sizeof message->variables[i], format, arguments);
	va_end(arguments);
	message->environment[i] = message->variables[i];
	message->environment[i + 1] = NULL;
}

static void
write_environment(struct message *message, const char *site)
{
	const struct ledger_event *first = &message->events[0];
	int64_t count = message_count(message);
	char at[CALENDAR_TEXT], several[64] = "";

	calendar_utc_text(first->at, 0, at);
	if (count > 1)
		snprintf(
		    several, sizeof several, "%" PRId64 " events, the first: ", count);
	message->environment[0] = NULL;
	put_variable(message,
	    "PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin");
	put_variable(message, "LANG=C.UTF-8");
	put_variable(message, "EVENSOAK_SITE=%s", site);
	put_variable(message, "EVENSOAK_COUNT=%" PRId64, count);
	put_variable(message, "EVENSOAK_KIND=%s", first->kind);
	put_variable(message, "EVENSOAK_LINE=%s", first->line);
	put_variable(message, "EVENSOAK_AT=%s", at);
	put_variable(message, "EVENSOAK_TEXT=%s%s", several, first->text);
}

void
message_write(struct message *message, const char *site)
{
	size_t length = 0;
	char at[CALENDAR_TEXT];

	assert(message->count > 0);
	write_environment(message, site);
	for (size_t i = 0; i < message->count; i++) {
		const struct ledger_event *event = &message->events[i];

		calendar_utc_text(event->at, 0, at);
		length += (size_t)snprintf(message->input + length,
		    sizeof message->input - length, "%s %s %s %s\n", at,
		    *event->line ? event->line : "-", event->kind, event->text);
		assert(length < sizeof message->input);
	}
	if (message->more > 0)
		snprintf(message->input + length, sizeof message->input - length,
		    "and %" PRId64 " more: see 'evensoak status'\n", message->more);
}
