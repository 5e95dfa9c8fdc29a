/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/store_named.h"

#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read_delivery.h"

enum { KNOWN_MOST = 64 };

/* Names that could have been meant. */
struct known {
	char names[KNOWN_MOST][LEDGER_NAME];
	size_t count;
};

static int
add(void *arg, const char *name)
{
	struct known *known = arg;

	if (known->count == KNOWN_MOST)
		return 1;
	text_copy(known->names[known->count++], LEDGER_NAME, name);
	return 0;
}

static bool
is_known(const struct known *known, const char *name)
{
	for (size_t i = 0; i < known->count; i++)
		if (strcmp(known->names[i], name) == 0)
			return true;
	return false;
}

static void
add_set_up(struct known *known, const struct settings *settings)
{
	for (size_t i = 0; i < settings->store_count; i++)
		add(known, settings->stores[i].name);
}

static enum command_exit
refuse(const struct call *call, const struct known *known, const char *name)
{
	const char *names[KNOWN_MOST];
	/* `--from tuesday` */
	const char *time = call->option[OPTION_STORE] == name &&
	                           (call->command->options & OPTION_BIT(OPTION_FROM))
	                       ? "; a time is like 2026-03-02T06:00"
	                       : "";

	if (known->count == 0)
		return command_usage(
		    call, "there is no store '%s': the set-up has none%s", name, time);
	for (size_t i = 0; i < known->count; i++)
		names[i] = known->names[i];
	const char *near = text_nearest(name, names, known->count);
	if (!near && known->count == 1)
		return command_usage(call, "there is no store '%s'; there is '%s'%s",
		    name, names[0], time);
	return command_usage(call, "there is no store '%s'%s%s%s%s", name,
	    near ? "; did you mean '" : "", near ? near : "", near ? "'?" : "", time);
}

int
store_named_index(const struct settings *settings, const char *name)
{
	for (size_t i = 0; i < settings->store_count; i++)
		if (strcmp(settings->stores[i].name, name) == 0)
			return (int)i;
	return -1;
}

enum command_exit
store_named_of_set_up(const struct call *call, const struct session *session,
    const char *name, size_t *store)
{
	struct known known = {.count = 0};
	int index = store_named_index(session->settings, name);

	if (index < 0) {
		add_set_up(&known, session->settings);
		return refuse(call, &known, name);
	}
	*store = (size_t)index;
	return COMMAND_DONE;
}

enum command_exit
store_named(struct store_named *store, const struct call *call,
    const struct session *session, const char *name)
{
	const struct settings *settings = session->settings;
	struct known known = {.count = 0};
	struct error error;
	int index = store_named_index(settings, name);

	text_copy(store->name, sizeof store->name, name);
	store->settings = index >= 0 ? &settings->stores[index] : NULL;
	if (index >= 0)
		return COMMAND_DONE;
	if (ledger_read_destinations(session->ledger, add, &known, &error) != 0)
		return command_cannot(call, &error);
	if (is_known(&known, name))
		return COMMAND_DONE;
	add_set_up(&known, settings);
	return refuse(call, &known, name);
}
