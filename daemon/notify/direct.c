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

bool
direct_was_taken(const struct direct *direct, const struct ledger_event *event)
{
	size_t count =
	    direct->taken_count < DIRECT_MOST ? direct->taken_count : DIRECT_MOST;

	for (size_t i = 0; i < count; i++) {
		const struct ledger_event *taken = &direct->taken[i];
		if (taken->at.ns == event->at.ns &&
		    strcmp(taken->kind, event->kind) == 0 &&
		    strcmp(taken->text, event->text) == 0)
			return true;
	}
	return false;
}
