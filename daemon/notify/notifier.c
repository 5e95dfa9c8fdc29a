/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/notify/notifier.h"

#include <errno.h>
#include <math.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "conf/program_file.h"
#include "conf/settings.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/notify/child.h"
#include "daemon/notify/direct.h"
#include "daemon/notify/events.h"
#include "daemon/notify/message.h"

static const struct notifier_pace usual = {
    NOTIFIER_LOOK_S, NOTIFIER_GATHER_S, NOTIFIER_BETWEEN_S, NOTIFIER_AGAIN_S};

/* What holds of the settings. */
struct order {
	struct notify_settings notify;
	char site[SETTINGS_NAME];
};

struct notifier {
	struct notifier_pace pace;
	pthread_t thread;
	int wake_fd, stop_fd;
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

static int64_t
now_ns(void)
{
	return clock_system_ns(clock_mono().ns);
}

static int64_t
after_s(double system_s)
{
	return now_ns() + (int64_t)(system_s * 1e9);
}

static bool
is_wanted(const struct notifier *notifier, const char *kind)
{
	int place = words_find(&words_event, kind);

	return place >= 0 && (notifier->order.notify.on & UINT32_C(1) << place) != 0;
}

/* --- how it is ------------------------------------------------------------------------ */

static void
set_status(struct notifier *notifier, int works, const char *text)
{
	struct notifier_status *status = &notifier->status;

	pthread_mutex_lock(&notifier->mutex);
	bool changed = status->works != works;
	int before = status->works;
	if (changed)
		status->since = clock_wall();
	status->works = works;
	text_copy(status->text, sizeof status->text, text);
	pthread_mutex_unlock(&notifier->mutex);
	if (changed && works == 0)
		log_error("%s", text);
	else if (before == 0 && works != 0)
		log_info("the program of [notify] can be run again");
}

/* What was put off is tried at once. */
static void
hurry(struct notifier *notifier)
{
	if (notifier->again_s > 0)
		notifier->due_ns = now_ns();
	notifier->again_s = 0;
}

/* Looks whether the program may be run: what is wrong with it is told before it is
 * needed. */
static void
look_at_program(struct notifier *notifier)
{
	char text[sizeof notifier->status.text];
	struct error error = {0};
	bool unfit = program_file_judge(notifier->order.notify.program, true, &error) !=
	             PROGRAM_GOOD;

	if (unfit) {
		snprintf(text, sizeof text,
		    "the program of [notify] is not run, and nobody is told: %.300s",
		    error.text);
		set_status(notifier, 0, text);
	} else if (notifier->unfit) {
		set_status(notifier, -1, "");
		hurry(notifier);
	}
	notifier->unfit = unfit;
}

/* --- gathering ------------------------------------------------------------------------- */

static void
gather(struct notifier *notifier, const struct ledger_event *event)
{
	int64_t now = now_ns();

	if (message_count(notifier->message) == 0) {
		double between_s = notifier->pace.between_s;
		int64_t least_ns = notifier->begun_ns + (int64_t)(between_s * 1e9);

		notifier->due_ns = now + (int64_t)(notifier->pace.gather_s * 1e9);
		if (notifier->begun_ns != 0 && least_ns > notifier->due_ns)
			notifier->due_ns = least_ns;
	}
	message_add(notifier->message, event);
}

/* A finding has the time of its first shot, and is filed up to the end of that shift. */
static bool
is_old(const struct ledger_event *event)
{
	int64_t most_s = strcmp(event->kind, "finding") == 0 ? 2 * NOTIFIER_OLDEST_S
	                                                     : NOTIFIER_OLDEST_S;

	return event->at.ns < clock_wall().ns - most_s * CLOCK_SECOND_NS;
}

static void
take_event(void *arg, const struct ledger_event *event)
{
	struct notifier *notifier = arg;

	if (!is_old(event) && is_wanted(notifier, event->kind) &&
	    !direct_knows(&notifier->direct, event))
		gather(notifier, event);
}

/* Of what could not get into the ledger. */
static void
take_direct(void *arg, const struct ledger_event *event)
{
	struct notifier *notifier = arg;

	if (is_wanted(notifier, event->kind))
		gather(notifier, event);
}

static void
look(struct notifier *notifier)
{
	look_at_program(notifier);
	int64_t more = direct_take(&notifier->direct, take_direct, notifier);
	if (message_count(notifier->message) > 0)
		notifier->message->more += more;
	if (atomic_load(&notifier->may_open))
		events_give(&notifier->events, take_event, notifier);
	if (message_count(notifier->message) == 0)
		events_settle(&notifier->events);
}

/* --- telling ----------------------------------------------------------------------------- */

static void
fail(struct notifier *notifier, const char *why)
{
	char text[sizeof notifier->status.text];

	snprintf(text, sizeof text,
	    "'%.120s' %.180s; mend it: it is tried again, and what it has not told is "
	    "kept for a day",
	    notifier->order.notify.program, why);
	set_status(notifier, 0, text);
	pthread_mutex_lock(&notifier->mutex);
	notifier->status.failures++;
	pthread_mutex_unlock(&notifier->mutex);
}

static void
succeed(struct notifier *notifier)
{
	memset(notifier->message, 0, sizeof *notifier->message);
	notifier->again_s = 0;
	set_status(notifier, 1, "");
	pthread_mutex_lock(&notifier->mutex);
	notifier->status.told++;
	pthread_mutex_unlock(&notifier->mutex);
	events_settle(&notifier->events);
}

/* Later and later. */
static void
put_off(struct notifier *notifier)
{
	notifier->again_s = notifier->again_s > 0
	                        ? fmin(2 * notifier->again_s, NOTIFIER_LATEST_S)
	                        : notifier->pace.again_s;
	notifier->due_ns = after_s(notifier->again_s);
}

static void
run_program(struct notifier *notifier)
{
	const struct child_order order = {
	    .program = notifier->order.notify.program,
	    .environment = notifier->message->environment,
	    .input = notifier->message->input,
	    .timeout_s = notifier->order.notify.timeout_s,
	    .stop_fd = notifier->stop_fd,
	    .stop_s = NOTIFIER_STOP_S,
	};
	char words[CHILD_WORDS];

	message_write(notifier->message, notifier->order.site);
	notifier->begun_ns = now_ns();
	switch (child_run(&order, words)) {
	case CHILD_DONE:
		succeed(notifier);
		return;
	case CHILD_FAILED:
	case CHILD_LATE:
		fail(notifier, words);
		break;
	case CHILD_STOPPED:
		break;
	}
	put_off(notifier);
}

static void
tell_due(struct notifier *notifier)
{
	message_drop_old(notifier->message, is_old);
	if (message_count(notifier->message) == 0 || now_ns() < notifier->due_ns ||
	    atomic_load(&notifier->stopping))
		return;
	if (!notifier->unfit)
		run_program(notifier);
	else
		put_off(notifier);
}

/* --- the thread -------------------------------------------------------------------------- */

static void
adopt_next(struct notifier *notifier)
{
	pthread_mutex_lock(&notifier->mutex);
	bool adopted = notifier->adopted;
	if (adopted)
		notifier->order = notifier->next;
	notifier->adopted = false;
	notifier->status.waiting = message_count(notifier->message);
	pthread_mutex_unlock(&notifier->mutex);
	if (adopted)
		hurry(notifier);
}

static void
rest(struct notifier *notifier)
{
	int64_t until_ns = after_s(notifier->pace.look_s);
	eventfd_t count;

	if (message_count(notifier->message) > 0 && notifier->due_ns < until_ns)
		until_ns = notifier->due_ns;
	int64_t left_ns = until_ns > now_ns() ? until_ns - now_ns() : 0;
	struct mono until = {
	    clock_mono().ns + (int64_t)((double)left_ns * clock_rate())};
	if (clock_sleep_until(until, notifier->wake_fd) == 1)
		(void)eventfd_read(notifier->wake_fd, &count);
}

static void *
run(void *arg)
{
	struct notifier *notifier = arg;
	sigset_t all;

	sigfillset(&all);
	pthread_sigmask(SIG_BLOCK, &all, NULL);
	while (!atomic_load(&notifier->stopping)) {
		adopt_next(notifier);
		look(notifier);
		tell_due(notifier);
		rest(notifier);
	}
	events_close(&notifier->events);
	return NULL;
}

/* --- as a whole --------------------------------------------------------------------------- */

static void
wake(struct notifier *notifier)
{
	(void)eventfd_write(notifier->wake_fd, 1);
}

static void
release(struct notifier *notifier)
{
	if (notifier->wake_fd >= 0)
		close(notifier->wake_fd);
	if (notifier->stop_fd >= 0)
		close(notifier->stop_fd);
	direct_release(&notifier->direct);
	pthread_mutex_destroy(&notifier->mutex);
	free(notifier->message);
	free(notifier);
}

static struct notifier *
make(const struct settings *settings, const struct notifier_pace *pace)
{
	struct notifier *notifier = calloc(1, sizeof *notifier);

	if (notifier == NULL)
		return NULL;
	pthread_mutex_init(&notifier->mutex, NULL);
	direct_init(&notifier->direct);
	notifier->message = calloc(1, sizeof *notifier->message);
	notifier->wake_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
	notifier->stop_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
	notifier->pace = pace != NULL ? *pace : usual;
	notifier->status.works = -1;
	notifier->status.since = clock_wall();
	text_copy(
	    notifier->events.path, sizeof notifier->events.path, settings->ledger);
	notifier_adopt(notifier, settings);
	if (notifier->message != NULL && notifier->wake_fd >= 0 &&
	    notifier->stop_fd >= 0)
		return notifier;
	release(notifier);
	return NULL;
}

struct notifier *
notifier_start(const struct settings *settings, const struct notifier_pace *pace,
    struct error *error)
{
	struct notifier *notifier = make(settings, pace);

	if (notifier != NULL) {
		int code = pthread_create(&notifier->thread, NULL, run, notifier);
		if (code == 0)
			return notifier;
		release(notifier);
	}
	error_set(error, ERROR_MEMORY,
	    "start the thread that runs the program of [notify]: out of memory, or too "
	    "many files are open");
	return NULL;
}

void
notifier_stop(struct notifier *notifier)
{
	if (notifier == NULL)
		return;
	atomic_store(&notifier->stopping, true);
	(void)eventfd_write(notifier->stop_fd, 1);
	wake(notifier);
	pthread_join(notifier->thread, NULL);
	release(notifier);
}

void
notifier_open(struct notifier *notifier)
{
	if (!atomic_exchange(&notifier->may_open, true))
		wake(notifier);
}

void
notifier_adopt(struct notifier *notifier, const struct settings *settings)
{
	pthread_mutex_lock(&notifier->mutex);
	notifier->next.notify = settings->notify;
	text_copy(notifier->next.site, sizeof notifier->next.site, settings->site);
	notifier->adopted = true;
	pthread_mutex_unlock(&notifier->mutex);
	wake(notifier);
}

void
notifier_tell(struct notifier *notifier, const struct ledger_event *event)
{
	direct_put(&notifier->direct, event);
	wake(notifier);
}

void
notifier_status(struct notifier *notifier, struct notifier_status *status)
{
	pthread_mutex_lock(&notifier->mutex);
	*status = notifier->status;
	pthread_mutex_unlock(&notifier->mutex);
}
