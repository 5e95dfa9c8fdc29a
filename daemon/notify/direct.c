/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/notify/direct.h"

#include <string.h>

void
direct_init(struct direct *direct)
{
	memset(direct, 0, sizeof *direct);
	pthread_mutex_init(&direct->mutex, NULL);
}

void
direct_release(struct direct *direct)
{
	pthread_mutex_destroy(&direct->mutex);
}

void
direct_put(struct direct *direct, const struct ledger_event *event)
{
	pthread_mutex_lock(&direct->mutex);
	if (direct->count < DIRECT_MOST)
		direct->waiting[direct->count++] = *event;
	else
		direct->more++;
	pthread_mutex_unlock(&direct->mutex);
}

int64_t
direct_take(struct direct *direct,
    void (*take)(void *arg, const struct ledger_event *event), void *arg)
{
	size_t first = direct->taken_count;
	int64_t more;

	pthread_mutex_lock(&direct->mutex);
	for (size_t i = 0; i < direct->count; i++)
		direct->taken[direct->taken_count++ % DIRECT_MOST] = direct->waiting[i];
	direct->count = 0;
	more = direct->more;
	direct->more = 0;
	pthread_mutex_unlock(&direct->mutex);
	for (size_t i = first; i < direct->taken_count; i++)
		take(arg, &direct->taken[i % DIRECT_MOST]);
	return more;
}

static bool
is_among(
    const struct ledger_event *events, size_t count, const struct ledger_event *event)
{
	for (size_t i = 0; i < count; i++)
		if (events[i].at.ns == event->at.ns &&
		    strcmp(events[i].kind, event->kind) == 0 &&
		    strcmp(events[i].text, event->text) == 0)
			return true;
	return false;
}

bool
direct_knows(struct direct *direct, const struct ledger_event *event)
{
	size_t count =
	    direct->taken_count < DIRECT_MOST ? direct->taken_count : DIRECT_MOST;

	pthread_mutex_lock(&direct->mutex);
	bool waits = is_among(direct->waiting, direct->count, event);
	pthread_mutex_unlock(&direct->mutex);
	return waits || is_among(direct->taken, count, event);
}

void
direct_forget(struct direct *direct)
{
	direct->taken_count = 0;
}
