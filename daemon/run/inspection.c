/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/inspection.h"

#include <inttypes.h>
#include <pthread.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_check.h"

struct inspection {
	const char *ledger;
	bool rests;
	int64_t worked_since_ns; /* the thread's own */
	pthread_t thread;
	pthread_mutex_t lock; /* guards the three below */
	pthread_cond_t stop;
	bool stopping;
	struct inspection_status status;
};

static int64_t
system_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

/* Until then, or until it is to stop: true then. */
static bool
rest_until(struct inspection *inspection, int64_t ns)
{
	const struct timespec at = {ns / 1000000000, ns % 1000000000};
	int rc = 0;

	pthread_mutex_lock(&inspection->lock);
	while (!inspection->stopping && rc == 0)
		rc = pthread_cond_timedwait(&inspection->stop, &inspection->lock, &at);
	bool stopping = inspection->stopping;
	pthread_mutex_unlock(&inspection->lock);
	return stopping;
}

/* Of ledger_check. */
static int
rest(void *arg)
{
	struct inspection *inspection = arg;
	int64_t now = system_ns(), worked = now - inspection->worked_since_ns;

	if (!inspection->rests)
		return 0;
	bool stopping = rest_until(inspection, now + worked);
	inspection->worked_since_ns = system_ns();
	return stopping;
}

static void
note(struct inspection *inspection, const struct ledger_checked *checked, double took_s)
{
	struct inspection_status *status = &inspection->status;
	struct wall now = clock_wall();
	int whole = checked->findings == 0;
	char at[CALENDAR_TEXT];

	calendar_local_text(now, at);
	pthread_mutex_lock(&inspection->lock);
	bool changed = status->whole != whole;
	if (changed)
		status->since = now;
	status->whole = whole;
	status->looks++;
	status->findings = checked->findings;
	if (whole)
		snprintf(status->text, sizeof(status->text),
		    "looked through at %s in %.0f s", at, took_s);
	else
		snprintf(status->text, sizeof(status->text),
		    "the ledger is damaged in %" PRId64
		    " place%s, found at %s: 'evensoak "
		    "backup FILE --salvage' saves what can be read; one of them: "
		    "%.100s",
		    checked->findings, checked->findings == 1 ? "" : "s", at,
		    checked->first);
	pthread_mutex_unlock(&inspection->lock);
	if (changed && !whole)
		log_error("the ledger '%s' is damaged: %s", inspection->ledger,
		    checked->first);
}

void
inspection_look(struct inspection *inspection)
{
	const struct ledger_check check = {.pause = rest, .arg = inspection};
	struct ledger_checked checked;
	struct error error;
	int64_t begun = system_ns();

	inspection->worked_since_ns = begun;
	if (ledger_check(inspection->ledger, &check, &checked, &error) != 0)
		log_warnx("cannot look through the ledger: %s", error.text);
	else if (!checked.ended)
		note(inspection, &checked, (double)(system_ns() - begun) / 1e9);
}

static void *
run(void *arg)
{
	struct inspection *inspection = arg;
	int64_t next = system_ns() + INSPECTION_FIRST_S * INT64_C(1000000000);

	while (!rest_until(inspection, next)) {
		inspection->rests = true;
		inspection_look(inspection);
		inspection->rests = false;
		next =
		    system_ns() + clock_system_ns(INSPECTION_EVERY_S * CLOCK_SECOND_NS);
	}
	return NULL;
}

struct inspection *
inspection_start(const char *ledger, struct error *error)
{
	struct inspection *inspection = calloc(1, sizeof(*inspection));
	pthread_condattr_t monotonic;

	if (inspection == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	inspection->ledger = ledger;
	inspection->status.whole = -1;
	inspection->status.since = clock_wall();
	text_copy(inspection->status.text, sizeof(inspection->status.text),
	    "not looked through yet");
	pthread_mutex_init(&inspection->lock, NULL);
	pthread_condattr_init(&monotonic);
	pthread_condattr_setclock(&monotonic, CLOCK_MONOTONIC);
	pthread_cond_init(&inspection->stop, &monotonic);
	pthread_condattr_destroy(&monotonic);
	if (pthread_create(&inspection->thread, NULL, run, inspection) == 0)
		return inspection;
	error_set(error, ERROR_MEMORY, "no thread to look through the ledger");
	pthread_cond_destroy(&inspection->stop);
	pthread_mutex_destroy(&inspection->lock);
	free(inspection);
	return NULL;
}

void
inspection_stop(struct inspection *inspection)
{
	if (inspection == NULL)
		return;
	pthread_mutex_lock(&inspection->lock);
	inspection->stopping = true;
	pthread_cond_signal(&inspection->stop);
	pthread_mutex_unlock(&inspection->lock);
	pthread_join(inspection->thread, NULL);
	pthread_cond_destroy(&inspection->stop);
	pthread_mutex_destroy(&inspection->lock);
	free(inspection);
}

void
inspection_status(struct inspection *inspection, struct inspection_status *status)
{
	pthread_mutex_lock(&inspection->lock);
	*status = inspection->status;
	pthread_mutex_unlock(&inspection->lock);
}
