/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What is to be read on a bus, and what of it next: one absolute schedule of tasks
 * that take a request or several each.  Pure.  One object belongs to one thread.
 *
 * Of what is due the one with the shortest period goes first, request by request, so
 * that a slow one never delays a fast one by more than one request.  On a bus that
 * cannot do it all, a slow task that is a whole period late gets one request for every
 * task that is completed before it, and one that is wanted now gets it first.
 */
#ifndef DAEMON_FIELDBUS_AGENDA_H
#define DAEMON_FIELDBUS_AGENDA_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>

struct agenda {
	size_t count;
	bool favoured; /* `favourite` went before faster ones, none done since */
	size_t favourite;
	double shift; /* of the phases, in periods: 0 to 1 */
	struct task {
		int64_t period_ns;
		struct mono due;
		bool wanted;   /* now, whatever its schedule says */
		bool begun;    /* some of its requests may be answered */
		bool hurried;  /* begun when it was wanted */
		bool extra;    /* begun for that alone: not of the schedule */
		bool starving; /* begun a period late */
		bool again;    /* not its first time */
	} tasks[];
};

/* NULL when memory is short; release with free.  Fill period_ns and due in, and `shift`
 * so that several agendas do not wake at one time. */
struct agenda *agenda_new(size_t count);

/* The task whose request is the next one; `count` when none is due. */
size_t agenda_next(struct agenda *agenda, struct mono now);

/* When the first of them is due. */
struct mono agenda_due(const struct agenda *agenda);

/*
 * Begins a task.  The schedule is absolute: one that comes too late leaves whole periods
 * out rather than catching up in a burst.  Returns by how much it is late, in ns; -1 when
 * it is not of the schedule.
 */
int64_t agenda_begin(struct agenda *agenda, size_t task, struct mono now);

/* Ends it.  From the second time on tasks are spread over their periods. */
void agenda_end(struct agenda *agenda, size_t task);

#endif
