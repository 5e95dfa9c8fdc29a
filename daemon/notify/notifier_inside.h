/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the two halves of the notifier share: notifier.c gathers and is the thread,
 * notifier_telling.c judges the program, runs it and says how it went.  Within notify/
 * only; all of it is for the thread.
 */
#ifndef DAEMON_NOTIFY_NOTIFIER_INSIDE_H
#define DAEMON_NOTIFY_NOTIFIER_INSIDE_H

#include "daemon/notify/notifier.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>

#include "conf/settings.h"
#include "daemon/notify/age.h"
#include "daemon/notify/direct.h"
#include "daemon/notify/events.h"
#include "daemon/notify/message.h"

/* What holds of the settings. */
struct order {
	struct notify_settings notify;
	char site[SETTINGS_NAME];
};

struct notifier {
	struct notifier_pace pace;
	pthread_t thread;
	int wake_fd, stop_fd;
	struct age age;
	_Atomic bool may_open, stopping;
	struct direct direct; /* locks by itself */

	pthread_mutex_t mutex; /* guards what follows */
	struct order next;
	bool adopted; /* next is another than what holds */
	struct notifier_status status;

	/* The thread's own. */
	struct order order;
	struct events events; /* of the ledger */
	struct message *message;
	int64_t due_ns, begun_ns; /* the next run; the last one */
	double again_s;           /* 0: the last run was well */
	bool unfit;               /* the program, when it was looked at last */
};

static inline int64_t
notifier_now_ns(void)
{
	return clock_system_ns(clock_mono().ns);
}

static inline int64_t
notifier_after_s(double system_s)
{
	return notifier_now_ns() + (int64_t)(system_s * 1e9);
}

/* Looks whether the program may be run: what is wrong with it is told before it is
 * needed. */
void notifier_look_at_program(struct notifier *notifier);

/* What was put off is tried at once. */
void notifier_hurry(struct notifier *notifier);

/* Whether it is too old to be told; `arg` is the notifier. */
bool notifier_is_old(void *arg, const struct ledger_event *event);

/* Runs the program when something is due. */
void notifier_tell_due(struct notifier *notifier);

#endif
