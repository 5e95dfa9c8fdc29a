/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/recorder.h"

#include <inttypes.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdlib.h>
#include <time.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger.h"
#include "daemon/run/queue.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"

enum {
	QUEUE_SLOTS = 1024,
	WAIT_MS = 500,
	EVENTS_MAX = 1000, /* waiting in memory; later ones are left out */
};

/* A shot or an event that has still to be written. */
struct pending {
	struct pending *next;
	struct shot *shot; /* NULL: an event */
	uint32_t line;
	struct wall at;
	char kind[32], text[160];
};

/* What a tracker's sink needs to know. */
struct line_sink {
	struct recorder *recorder;
	uint32_t line;
	int64_t before; /* shots of the line in a ledger that was opened late */
};

struct recorder {
	/* Of the thread alone. */
	const struct settings *settings;
	struct ledger *ledger; /* NULL: not open yet */
	bool set_up;           /* the ledger knows these settings */
	size_t line_count;
	struct tracker **trackers; /* one a line */
	struct line_sink *sinks;
	struct pending *first, **last;
	size_t events;   /* among them */
	time_t retry_at; /* system's monotonic seconds */

	/* Shared. */
	struct queue *queue;
	_Atomic(const struct settings *) next_settings;
	pthread_t thread;
	pthread_mutex_t lock; /* guards status */
	struct recorder_status status;
};

static time_t
system_seconds(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec;
}

/* --- from the trackers ------------------------------------------------------------- */

static void
pending_free(struct pending *pending)
{
	shot_free(pending->shot);
	free(pending);
}

/* Whether there is room for it: shots and events have a bound each. */
static bool
pending_fits(struct recorder *recorder, const struct pending *pending)
{
	bool fits;

	if (pending->shot == NULL) {
		fits = recorder->events < EVENTS_MAX;
		recorder->events += fits;
		return fits;
	}
	pthread_mutex_lock(&recorder->lock);
	fits = recorder->status.waiting < (size_t)recorder->settings->memory_shots;
	recorder->status.waiting += fits;
	recorder->status.lost += !fits;
	pthread_mutex_unlock(&recorder->lock);
	return fits;
}

/* Puts it at the end of what is to be written, or gives it up past the bound. */
static void
pending_add(struct recorder *recorder, struct pending *pending)
{
	if (!pending_fits(recorder, pending)) {
		if (pending->shot != NULL)
			log_error("line '%s': shot %" PRId64
				  " is lost: %d shots wait for "
				  "the ledger already (setting 'memory_shots')",
			    recorder->settings->lines[pending->line].name,
			    pending->shot->shot_no, recorder->settings->memory_shots);
		pending_free(pending);
		return;
	}
	*recorder->last = pending;
	recorder->last = &pending->next;
}

static void
take_shot(void *arg, struct shot *shot)
{
	struct line_sink *sink = arg;
	struct pending *pending = calloc(1, sizeof(*pending));

	if (pending == NULL) {
		log_error("out of memory: shot %" PRId64 " is lost", shot->shot_no);
		shot_free(shot);
		return;
	}
	shot->shot_no += sink->before;
	pending->shot = shot;
	pending->line = sink->line;
	pending_add(sink->recorder, pending);
}

static void
take_event(void *arg, struct wall at, const char *kind, const char *text)
{
	struct line_sink *sink = arg;
	struct pending *pending = calloc(1, sizeof(*pending));

	log_info(
	    "line '%s': %s", sink->recorder->settings->lines[sink->line].name, text);
	if (pending == NULL)
		return;
	pending->line = sink->line;
	pending->at = at;
	text_copy(pending->kind, sizeof(pending->kind), kind);
	text_copy(pending->text, sizeof(pending->text), text);
	pending_add(sink->recorder, pending);
}

/* --- to the ledger ----------------------------------------------------------------- */

static int
write_one(struct recorder *recorder, const struct pending *pending, struct error *error)
{
	int64_t setup;
	int rc;

	if (!recorder->set_up) {
		rc = ledger_put_setup(
		    recorder->ledger, recorder->settings, clock_wall(), &setup, error);
		if (rc != 0)
			return rc;
		recorder->set_up = true;
	}
	if (pending->shot != NULL)
		return ledger_put_shot(
		    recorder->ledger, recorder->settings, pending->shot, error);
	return ledger_put_event(recorder->ledger,
	    recorder->settings->lines[pending->line].name, pending->at, pending->kind,
	    pending->text, error);
}

/* Remembers whether the ledger takes what it is given; says so when that changes. */
static void
note_writing(struct recorder *recorder, int writing, const char *text)
{
	bool changed;
	size_t waiting;

	pthread_mutex_lock(&recorder->lock);
	changed = recorder->status.writing != writing;
	waiting = recorder->status.waiting;
	if (changed) {
		recorder->status.writing = writing;
		recorder->status.since = clock_wall();
	}
	if (!writing)
		text_copy(recorder->status.text, sizeof(recorder->status.text), text);
	pthread_mutex_unlock(&recorder->lock);
	if (changed && writing)
		log_info("ledger '%s' takes shots again", recorder->settings->ledger);
	else if (changed)
		log_error("%s; %zu shots wait in memory, up to %d are kept while "
			  "trying again",
		    text, waiting, recorder->settings->memory_shots);
}

/* Opens a ledger that could not be opened at the start; the shots made meanwhile are
 * numbered on from its last ones. */
static int
open_late(struct recorder *recorder, struct error *error)
{
	struct ledger *ledger = ledger_open(recorder->settings->ledger, NULL, error);
	struct wall closed_at;

	if (ledger == NULL)
		return ERROR_IO;
	for (size_t i = 0; i < recorder->line_count; i++)
		if (ledger_last_shot(ledger, recorder->settings->lines[i].name,
			&recorder->sinks[i].before, &closed_at, error) != 0) {
			ledger_close(ledger);
			return ERROR_IO;
		}
	for (struct pending *p = recorder->first; p != NULL; p = p->next)
		if (p->shot != NULL)
			p->shot->shot_no += recorder->sinks[p->line].before;
	recorder->ledger = ledger;
	pthread_mutex_lock(&recorder->lock);
	recorder->status.open = 1;
	pthread_mutex_unlock(&recorder->lock);
	return 0;
}

/* Writes what is waiting, oldest first, until it is done or the ledger refuses. */
static void
write_pending(struct recorder *recorder)
{
	struct error error;

	if (recorder->ledger != NULL && recorder->first == NULL)
		return;
	if (system_seconds() < recorder->retry_at)
		return;
	if (recorder->ledger == NULL && open_late(recorder, &error) != 0) {
		note_writing(recorder, 0, error.text);
		recorder->retry_at = system_seconds() + RECORDER_RETRY_S;
		return;
	}
	while (recorder->first != NULL) {
		struct pending *pending = recorder->first;

		if (write_one(recorder, pending, &error) != 0) {
			note_writing(recorder, 0, error.text);
			recorder->retry_at = system_seconds() + RECORDER_RETRY_S;
			return;
		}
		recorder->first = pending->next;
		if (recorder->first == NULL)
			recorder->last = &recorder->first;
		recorder->events -= pending->shot == NULL;
		pthread_mutex_lock(&recorder->lock);
		recorder->status.waiting -= pending->shot != NULL;
		recorder->status.filed += pending->shot != NULL;
		pthread_mutex_unlock(&recorder->lock);
		pending_free(pending);
	}
	note_writing(recorder, 1, "");
}

/* --- the thread --------------------------------------------------------------------- */

/* Goes over to new settings once every shot made under the old ones is on file. */
static void
adopt_next(struct recorder *recorder)
{
	const struct settings *next;

	if (recorder->first != NULL)
		return;
	next = atomic_exchange(&recorder->next_settings, NULL);
	if (next == NULL)
		return;
	recorder->settings = next;
	recorder->set_up = false;
	for (size_t i = 0; i < recorder->line_count; i++)
		tracker_adopt(recorder->trackers[i], next);
}

/* An event of the logger itself: what lies between an end and a start was not seen. */
static void
every_line(struct recorder *recorder, const char *kind, const char *text)
{
	for (size_t i = 0; i < recorder->line_count; i++)
		take_event(&recorder->sinks[i], clock_wall(), kind, text);
}

static void *
run(void *arg)
{
	struct recorder *recorder = arg;
	const struct scan *scan;
	int closed = 0;

	every_line(recorder, "start", "logging begins");
	while (!closed) {
		adopt_next(recorder);
		scan = queue_take(recorder->queue, WAIT_MS, &closed);
		if (scan != NULL)
			tracker_scan(
			    recorder->trackers[recorder->settings->devices[scan->device]
						   .line],
			    scan);
		write_pending(recorder);
		pthread_mutex_lock(&recorder->lock);
		recorder->status.beat++;
		pthread_mutex_unlock(&recorder->lock);
	}
	for (size_t i = 0; i < recorder->line_count; i++)
		tracker_finish(recorder->trackers[i]);
	every_line(recorder, "end", "logging ends");
	recorder->retry_at = 0;
	write_pending(recorder);
	return NULL;
}

static void
recorder_release(struct recorder *recorder)
{
	for (size_t i = 0; recorder->trackers != NULL && i < recorder->line_count; i++)
		tracker_free(recorder->trackers[i]);
	while (recorder->first != NULL) {
		struct pending *pending = recorder->first;

		recorder->first = pending->next;
		pending_free(pending);
	}
	free(recorder->trackers);
	free(recorder->sinks);
	queue_free(recorder->queue);
	ledger_close(recorder->ledger);
	pthread_mutex_destroy(&recorder->lock);
	free(recorder);
}

/* A tracker a line, with the numbering taken up where the ledger ends. */
static int
make_trackers(struct recorder *recorder, struct error *error)
{
	const struct settings *settings = recorder->settings;

	recorder->trackers = calloc(settings->line_count, sizeof(struct tracker *));
	recorder->sinks = calloc(settings->line_count, sizeof(*recorder->sinks));
	if (recorder->trackers == NULL || recorder->sinks == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	recorder->line_count = settings->line_count;
	for (size_t i = 0; i < settings->line_count; i++) {
		struct tracker_start start = {0};
		struct tracker_sink sink = {
		    .shot = take_shot, .event = take_event, .arg = &recorder->sinks[i]};
		int rc =
		    recorder->ledger == NULL
			? 0
			: ledger_last_shot(recorder->ledger, settings->lines[i].name,
			      &start.last_shot_no, &start.last_closed_at, error);

		if (rc != 0)
			return rc;
		recorder->sinks[i] =
		    (struct line_sink){.recorder = recorder, .line = (uint32_t)i};
		recorder->trackers[i] = tracker_new(settings, (uint32_t)i, start, sink);
		if (recorder->trackers[i] == NULL)
			return error_set(error, ERROR_MEMORY, "out of memory");
	}
	return 0;
}

static uint32_t
widest_device(const struct settings *settings)
{
	uint32_t width = 1;

	for (size_t i = 0; i < settings->device_count; i++)
		if (settings->devices[i].channel_count > width)
			width = settings->devices[i].channel_count;
	return width;
}

struct recorder *
recorder_start(const struct settings *settings, struct error *error)
{
	struct recorder *recorder = calloc(1, sizeof(*recorder));
	int code = 0;

	if (recorder == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	pthread_mutex_init(&recorder->lock, NULL);
	recorder->settings = settings;
	recorder->last = &recorder->first;
	recorder->status.writing = 1;
	recorder->status.since = clock_wall();
	recorder->ledger = ledger_open(settings->ledger, &code, error);
	if (recorder->ledger == NULL && code == ERROR_FULL)
		note_writing(recorder, 0, error->text);
	else if (recorder->ledger == NULL)
		goto fail;
	recorder->status.open = recorder->ledger != NULL;
	if (make_trackers(recorder, error) != 0)
		goto fail;
	recorder->queue = queue_new(QUEUE_SLOTS, widest_device(settings));
	if (recorder->queue == NULL ||
	    pthread_create(&recorder->thread, NULL, run, recorder) != 0) {
		error_set(
		    error, ERROR_MEMORY, "cannot start the recorder: out of memory");
		goto fail;
	}
	return recorder;
fail:
	recorder_release(recorder);
	return NULL;
}

void
recorder_put(void *arg, const struct scan *scan)
{
	struct recorder *recorder = arg;

	queue_put(recorder->queue, scan);
}

void
recorder_adopt(struct recorder *recorder, const struct settings *settings)
{
	atomic_store(&recorder->next_settings, settings);
}

void
recorder_stop(struct recorder *recorder)
{
	queue_close(recorder->queue);
	pthread_join(recorder->thread, NULL);
	if (recorder->first != NULL)
		log_error("%zu shots are lost: %s", recorder->status.waiting,
		    recorder->status.text);
	recorder_release(recorder);
}

void
recorder_status(struct recorder *recorder, struct recorder_status *status)
{
	struct queue_status queue = queue_status(recorder->queue);

	pthread_mutex_lock(&recorder->lock);
	*status = recorder->status;
	pthread_mutex_unlock(&recorder->lock);
	status->queued = queue.waiting;
	status->dropped = queue.dropped;
}
