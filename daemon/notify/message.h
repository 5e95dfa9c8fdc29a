/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the program of [notify] is told: what happened, gathered, as an environment and
 * lines of text.  Pure; one object belongs to one thread.
 *
 *   PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin
 *   LANG=C.UTF-8
 *   EVENSOAK_SITE=   name of [site]
 *   EVENSOAK_COUNT=  how many events this is about, 1 or more
 *   EVENSOAK_KIND=   of the first of them: device_silent, finding ...
 *   EVENSOAK_LINE=   its line; empty: it is of the logger itself
 *   EVENSOAK_AT=     its time, UTC: 2026-03-02T10:00:00Z
 *   EVENSOAK_TEXT=   its sentence; of several "3 events, the first: " and that
 *
 * and on its input a line for each, the oldest first, of what blanks part:
 *
 *   2026-03-02T10:00:00Z line-3 finding the sentence, in as many words as it has
 *
 * with '-' for no line.  Beyond MESSAGE_EVENTS of them one more line says how many there
 * are.  Sites, lines and kinds have no blanks.  What a device, a store or a file name
 * brought into a sentence is one line of valid UTF-8 and steers no terminal; it is never an
 * argument.  A program that puts it into one, or into a command, has to quote it.
 */
#ifndef DAEMON_NOTIFY_MESSAGE_H
#define DAEMON_NOTIFY_MESSAGE_H

#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>

enum { MESSAGE_EVENTS = 50, MESSAGE_VARIABLES = 8 };

struct message {
	size_t count;                               /* in the list */
	int64_t more;                               /* that had no room there */
	struct ledger_event events[MESSAGE_EVENTS]; /* the oldest, as they came */
	/* Of message_write: */
	char *environment[MESSAGE_VARIABLES + 1]; /* NULL at the end */
	char variables[MESSAGE_VARIABLES][512];
	char input[(MESSAGE_EVENTS + 1) * 512];
};

/* Zeroed to begin with.  Copies. */
void message_add(struct message *message, const struct ledger_event *event);

/* Without those that are old.  What had no room stays counted as long as there are others;
 * true: there are none any more, and it is to be read again, for it may be younger. */
bool message_drop_old(struct message *message,
    bool (*is_old)(void *arg, const struct ledger_event *event), void *arg);

/* So many in all. */
int64_t message_count(const struct message *message);

/* Writes environment and input, which stay until the next call; there is an event. */
void message_write(struct message *message, const char *site);

#endif
