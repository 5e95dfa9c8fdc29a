/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/publisher.h"

#include <errno.h>
#include <math.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/publish/backoff.h"
#include "daemon/publish/delivery.h"
#include "daemon/publish/publisher_log.h"
#include "daemon/publish/telling.h"

/* Seconds of the system's time: a store is a real one at any clock rate. */
static const double LOOK_S = 10; /* for what another process changed in the ledger */
static const double LATER_FIRST_S = 1, LATER_LONGEST_S = 60;
static const double CLOSED_FIRST_S = 30, CLOSED_LONGEST_S = 300;
static const double TELL_S = 60;
static const double DUE_LATE_S = 0.01; /* so that it is due then */

struct publisher {
	const char *name; /* of the store */
	struct delivery *delivery;
	struct telling *telling;
	pthread_t thread;
	int wake_fd;
	_Atomic int64_t stop_at_ns; /* clock_mono at which to give up; 0: go on */

	/* The thread's own. */
	struct backoff later, closed;
	int64_t batches_reset;
	struct mono tell_at; /* the devices' counts, not earlier */
	struct publisher_log log;

	pthread_mutex_t mutex; /* guards status */
	struct publisher_status status;
};

static struct mono
after_s(double system_s)
{
	double ns = system_s * clock_rate() * (double)CLOCK_SECOND_NS;
	return (struct mono){clock_mono().ns + (int64_t)ns};
}

static bool
stopping(struct publisher *publisher)
{
	return atomic_load(&publisher->stop_at_ns) != 0;
}

static bool
time_is_up(void *arg)
{
	struct publisher *publisher = arg;
	int64_t stop_at_ns = atomic_load(&publisher->stop_at_ns);

	return stop_at_ns != 0 && clock_mono().ns >= stop_at_ns;
}

static bool
works(enum delivery_state state)
{
	return state == DELIVERY_DONE || state == DELIVERY_MOVING;
}

/* Whether a step that ended so went on, and nothing else is wrong. */
static bool
is_well(const struct publisher *publisher, enum delivery_state state)
{
	return works(state) &&
	       delivery_counts(publisher->delivery)->standing[0] == '\0';
}

/* --- telling --------------------------------------------------------------------- */

static void
set_status(
    struct publisher *publisher, enum delivery_state state, const struct error *error)
{
	const struct delivery_counts *counts = delivery_counts(publisher->delivery);
	struct publisher_status *status = &publisher->status;
	int delivering = is_well(publisher, state);
	const char *text = works(state) ? counts->standing : error->text;

	pthread_mutex_lock(&publisher->mutex);
	/* To have nothing to send says nothing about a store not tried yet. */
	bool untried = state == DELIVERY_DONE && status->delivering == -1;
	bool other = counts->trouble != status->trouble;
	if ((delivering != status->delivering || other) && !untried) {
		status->delivering = delivering;
		status->since = clock_wall();
	}
	status->trouble = counts->trouble;
	status->all_sent = state == DELIVERY_DONE;
	status->settling = counts->settling;
	status->batches = counts->batches;
	status->refused = counts->refused;
	status->lost_readings = counts->lost_readings;
	status->stuck = counts->stuck;
	if (!delivering) {
		status->failures += !works(state);
		text_copy(status->text, sizeof(status->text), text);
	}
	text_copy(status->unasked, sizeof(status->unasked), counts->unasked);
	pthread_mutex_unlock(&publisher->mutex);
}

/* --- the thread ------------------------------------------------------------------ */

/* Whether a store that is in this state may take what is told beside the shots. */
static bool
may_be_told(const struct publisher *publisher, enum delivery_state state)
{
	return works(state) || (state == DELIVERY_LATER &&
				   delivery_counts(publisher->delivery)->answered);
}

/* What the buses count and how the logger is.  A failure is told and costs nothing: a
 * store that is not there is a matter of the shots. */
static void
tell(struct publisher *publisher, enum delivery_state state)
{
	struct error error;

	if (clock_mono().ns < publisher->tell_at.ns || stopping(publisher) ||
	    !may_be_told(publisher, state))
		return;
	int code = telling_post(publisher->telling, is_well(publisher, state),
	    delivery_counts(publisher->delivery)->lost_readings, &error);
	if (code == 0 || time_is_up(publisher))
		return;
	publisher->tell_at = after_s(TELL_S);
	publisher_log_telling(&publisher->log, code, &error);
	pthread_mutex_lock(&publisher->mutex);
	text_copy(publisher->status.untold, sizeof(publisher->status.untold),
	    code < 0 ? error.text : "");
	pthread_mutex_unlock(&publisher->mutex);
}

/* Sleeps until the time is over or it is time to stop; also until a wake-up, if
 * `wakeable`: a store that failed is not asked earlier because there is more for it. */
static void
wait_s(struct publisher *publisher, double system_s, bool wakeable)
{
	struct mono until = after_s(system_s);

	while (
	    !stopping(publisher) && clock_sleep_until(until, publisher->wake_fd) == 1) {
		eventfd_t count;
		(void)eventfd_read(publisher->wake_fd, &count);
		if (wakeable)
			return;
	}
}

static double
pause_s(struct publisher *publisher, enum delivery_state state, double retry_after_s)
{
	struct backoff *backoff =
	    state == DELIVERY_CLOSED ? &publisher->closed : &publisher->later;

	return backoff_next_s(
	    backoff, retry_after_s, (double)arc4random() / UINT32_MAX);
}

/* Only when a cursor has moved: what is taken and then to be sent again is no success. */
static void
reset_backoff(struct publisher *publisher, enum delivery_state state)
{
	int64_t batches = delivery_counts(publisher->delivery)->batches;

	if (state != DELIVERY_DONE && batches == publisher->batches_reset)
		return;
	publisher->batches_reset = batches;
	backoff_reset(&publisher->later);
	backoff_reset(&publisher->closed);
}

static void *
run(void *arg)
{
	struct publisher *publisher = arg;
	enum delivery_state state;
	sigset_t all;

	/* Signals are for main; this also keeps a SIGPIPE of TLS from ending us. */
	sigfillset(&all);
	pthread_sigmask(SIG_BLOCK, &all, NULL);
	do {
		struct error error;
		double retry_after_s;

		/* Before the step: what is there when we are told to stop goes out. */
		bool last = stopping(publisher);
		state = delivery_step(publisher->delivery, &retry_after_s, &error);
		if (time_is_up(publisher))
			break;
		set_status(publisher, state, &error);
		publisher_log_step(&publisher->log, state,
		    delivery_counts(publisher->delivery), &error);
		reset_backoff(publisher, state);
		if (last && state != DELIVERY_MOVING)
			break;
		tell(publisher, state);
		if (state == DELIVERY_DONE) {
			double due_s = delivery_due_s(publisher->delivery);
			wait_s(publisher, fmin(LOOK_S, due_s + DUE_LATE_S), true);
		} else if (state != DELIVERY_MOVING)
			wait_s(
			    publisher, pause_s(publisher, state, retry_after_s), false);
	} while (works(state) || !stopping(publisher));
	return NULL;
}

struct publisher *
publisher_start(const struct settings *settings, size_t store, const char *ledger,
    struct error *error)
{
	struct publisher *publisher = calloc(1, sizeof(*publisher));
	if (publisher == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	publisher->name = settings->stores[store].name;
	publisher_log_init(&publisher->log, publisher->name);
	publisher->status.delivering = -1;
	publisher->status.since = clock_wall();
	backoff_init(&publisher->later, LATER_FIRST_S, LATER_LONGEST_S);
	backoff_init(&publisher->closed, CLOSED_FIRST_S, CLOSED_LONGEST_S);
	pthread_mutex_init(&publisher->mutex, NULL);
	publisher->wake_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
	if (publisher->wake_fd < 0) {
		error_set(
		    error, ERROR_IO, "make an eventfd: %s", strerrordesc_np(errno));
		goto failed;
	}
	publisher->delivery =
	    delivery_open(settings, store, ledger, time_is_up, publisher, error);
	if (publisher->delivery == NULL)
		goto failed;
	publisher->telling = telling_open(
	    settings, store, ledger, delivery_http(publisher->delivery), error);
	if (publisher->telling == NULL)
		goto failed;
	int code = pthread_create(&publisher->thread, NULL, run, publisher);
	if (code != 0) {
		error_set(error, ERROR_IO, "start a thread for store '%s': %s",
		    publisher->name, strerrordesc_np(code));
		goto failed;
	}
	return publisher;
failed:
	telling_close(publisher->telling);
	delivery_close(publisher->delivery);
	if (publisher->wake_fd >= 0)
		close(publisher->wake_fd);
	pthread_mutex_destroy(&publisher->mutex);
	free(publisher);
	return NULL;
}

void
publisher_wake(struct publisher *publisher)
{
	(void)eventfd_write(publisher->wake_fd, 1);
}

void
publisher_stop(struct publisher *publisher, double grace_s)
{
	if (publisher == NULL)
		return;
	atomic_store(&publisher->stop_at_ns, after_s(grace_s).ns);
	publisher_wake(publisher);
	pthread_join(publisher->thread, NULL);
	telling_close(publisher->telling);
	delivery_close(publisher->delivery);
	close(publisher->wake_fd);
	pthread_mutex_destroy(&publisher->mutex);
	free(publisher);
}

void
publisher_status(struct publisher *publisher, struct publisher_status *status)
{
	pthread_mutex_lock(&publisher->mutex);
	*status = publisher->status;
	pthread_mutex_unlock(&publisher->mutex);
}

/* --- in words ------------------------------------------------------------------------ */

static void
say_stuck(struct text *text, const struct delivery_stuck *stuck)
{
	text_printf(text, "%sthe next %s has been tried %lld times",
	    text->length > 0 ? "; " : "", stuck->stream, (long long)stuck->tries);
}

void
publisher_say(const struct publisher_status *status, char to[static PUBLISHER_SENTENCE])
{
	struct text text;

	text_init(&text, PUBLISHER_SENTENCE);
	if (status->delivering == 0)
		text_puts(&text, status->text);
	if (status->stuck.tries > 1)
		say_stuck(&text, &status->stuck);
	if (status->settling > 0)
		text_printf(&text, "%s%s%lld shot%s", text.length > 0 ? "; " : "",
		    status->all_sent ? "everything is sent, " : "",
		    (long long)status->settling,
		    status->settling == 1 ? " has to settle" : "s have to settle");
	if (status->refused > 0)
		text_printf(&text, "%s%lld line%s refused and set aside",
		    text.length > 0 ? "; " : "", (long long)status->refused,
		    status->refused == 1 ? "" : "s");
	if (status->unasked[0] != '\0')
		text_printf(&text,
		    "%sits connections are trusted, as it cannot be asked what it "
		    "has: %s",
		    text.length > 0 ? "; " : "", status->unasked);
	if (status->untold[0] != '\0')
		text_printf(&text, "%scounts of the devices not taken: %s",
		    text.length > 0 ? "; " : "", status->untold);
	text_copy(to, PUBLISHER_SENTENCE, text.bytes != NULL ? text.bytes : "");
	text_release(&text);
}
