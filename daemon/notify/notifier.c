/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/notify/notifier.h"

#include <signal.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/notify/notifier_inside.h"

static const struct notifier_pace usual = {
    NOTIFIER_LOOK_S, NOTIFIER_GATHER_S, NOTIFIER_BETWEEN_S, NOTIFIER_AGAIN_S};

static bool
is_wanted(const struct notifier *notifier, const char *kind)
{
	int place = words_find(&words_event, kind);

	return place >= 0 && (notifier->order.notify.on & UINT32_C(1) << place) != 0;
}

/* --- gathering ------------------------------------------------------------------------- */

static void
gather(struct notifier *notifier, const struct ledger_event *event)
{
	int64_t now = notifier_now_ns();

	if (message_count(notifier->message) == 0) {
		double between_s = notifier->pace.between_s;
		int64_t least_ns = notifier->begun_ns + (int64_t)(between_s * 1e9);

		notifier->due_ns = now + (int64_t)(notifier->pace.gather_s * 1e9);
		if (notifier->begun_ns != 0 && least_ns > notifier->due_ns)
			notifier->due_ns = least_ns;
	}
	message_add(notifier->message, event);
}

static void
take_event(void *arg, const struct ledger_event *event)
{
	struct notifier *notifier = arg;

	if (!notifier_is_old(notifier, event) && is_wanted(notifier, event->kind) &&
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
	notifier_look_at_program(notifier);
	int64_t more = direct_take(&notifier->direct, take_direct, notifier);
	if (message_count(notifier->message) > 0)
		notifier->message->more += more;
	if (atomic_load(&notifier->may_open))
		events_give(&notifier->events, take_event, notifier);
	if (message_count(notifier->message) == 0)
		events_settle(&notifier->events);
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
		notifier_hurry(notifier);
}

static void
rest(struct notifier *notifier)
{
	int64_t until_ns = notifier_after_s(notifier->pace.look_s);
	eventfd_t count;

	if (message_count(notifier->message) > 0 && notifier->due_ns < until_ns)
		until_ns = notifier->due_ns;
	int64_t left_ns =
	    until_ns > notifier_now_ns() ? until_ns - notifier_now_ns() : 0;
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
		notifier_tell_due(notifier);
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
	struct mono mono;

	if (notifier == NULL)
		return NULL;
	pthread_mutex_init(&notifier->mutex, NULL);
	direct_init(&notifier->direct);
	notifier->message = calloc(1, sizeof *notifier->message);
	notifier->wake_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
	notifier->stop_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
	notifier->pace = pace != NULL ? *pace : usual;
	notifier->status.works = -1;
	clock_both(&mono, &notifier->status.since);
	notifier->age = age_start(mono, notifier->status.since);
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
