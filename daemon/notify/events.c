/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/notify/events.h"

#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/ledger/ledger_read.h"

void
events_close(struct events *events)
{
	ledger_read_close(events->read);
	ledger_close(events->ledger);
	events->read = NULL;
	events->ledger = NULL;
}

static bool
open_both(struct events *events)
{
	struct error error;

	if (events->read != NULL)
		return true;
	events->ledger = ledger_open(events->path, NULL, &error);
	if (events->ledger != NULL)
		events->read = ledger_read_open(events->path, &error);
	if (events->read != NULL && ledger_delivered(events->ledger, EVENTS_DESTINATION,
					EVENTS_STREAM, &events->cursor, &error) == 0) {
		events->first = events->cursor.at.ns == 0;
		events->read_to = events->cursor.change;
		return true;
	}
	log_debug("notify: %s", error.text);
	events_close(events);
	return false;
}

struct giving {
	struct events *events;
	void (*take)(void *arg, const struct ledger_event *event);
	void *arg;
};

static int
take_one(void *arg, const struct ledger_event *event)
{
	const struct giving *giving = arg;

	giving->events->read_to = event->change;
	if (!giving->events->first)
		giving->take(giving->arg, event);
	return 0;
}

void
events_give(struct events *events,
    void (*take)(void *arg, const struct ledger_event *event), void *arg)
{
	struct giving giving = {events, take, arg};
	struct error error;

	if (!open_both(events))
		return;
	const struct ledger_filter filter = {.after_change = events->read_to};
	if (ledger_read_events(events->read, &filter, take_one, &giving, &error) != 0)
		log_debug("notify: %s", error.text);
	else
		events->first = false;
}

void
events_settle(struct events *events)
{
	struct ledger_delivered cursor = events->cursor;
	struct error error;

	cursor.change = events->read_to;
	cursor.at = clock_wall();
	if (events->read == NULL ||
	    (cursor.change == events->cursor.change && events->cursor.at.ns != 0))
		return;
	if (ledger_set_delivered(events->ledger, EVENTS_DESTINATION, EVENTS_STREAM,
		&cursor, &error) == 0)
		events->cursor = cursor;
	else
		log_debug("notify: %s", error.text);
}

void
events_give_again(struct events *events)
{
	events->read_to = events->cursor.change;
}
