/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/recorder.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/scan.h"
#include "daemon/run/live.h"
#include "daemon/run/queue.h"
#include "daemon/run/recording.h"

enum { QUEUE_SLOTS = 1024, WAIT_MS = 500 };

struct recorder {
	/* Of the thread alone, once it runs. */
	struct recording *recording; /* lent; NULL: none */
	struct filing *filing;
	struct lines *lines;
	struct live *live;

	/* Shared. */
	struct queue *queue;
	_Atomic(const struct settings *) next_settings;
	_Atomic(const struct settings *) settings; /* in use */
	_Atomic int64_t beat;
	pthread_t thread;
};

/* Goes over to new settings; everything made under the old ones is on file. */
static void
adopt_next(struct recorder *recorder)
{
	const struct settings *next = atomic_exchange(&recorder->next_settings, NULL);

	if (next == NULL)
		return;
	filing_adopt(recorder->filing, next);
	lines_adopt(recorder->lines, next);
	live_adopt(recorder->live, next);
	atomic_store(&recorder->settings, next);
}

static void
take_scan(struct recorder *recorder, const struct scan *scan)
{
	if (recorder->recording != NULL)
		recording_put(recorder->recording, scan);
	lines_scan(recorder->lines, scan);
	live_scan(recorder->live, scan);
}

static void *
run(void *arg)
{
	struct recorder *recorder = arg;
	const struct scan *scan;
	struct wall before;
	int closed = 0;

	/* What lies between an end and a start was not seen. */
	lines_event(recorder->lines, clock_wall(), "start", "logging begins");
	while (!closed) {
		before = clock_wall();
		scan = queue_take(recorder->queue, WAIT_MS, &closed);
		if (scan != NULL)
			take_scan(recorder, scan);
		else
			live_pass(recorder->live, before);
		if (filing_write(recorder->filing, false))
			adopt_next(recorder);
		filing_tidy(recorder->filing, clock_wall());
		atomic_fetch_add(&recorder->beat, 1);
	}
	lines_finish(recorder->lines);
	lines_event(recorder->lines, clock_wall(), "end", "logging ends");
	filing_write(recorder->filing, true);
	return NULL;
}

static void
recorder_release(struct recorder *recorder)
{
	queue_free(recorder->queue);
	live_free(recorder->live);
	lines_free(recorder->lines);
	filing_free(recorder->filing);
	free(recorder);
}

/* How many channels are read together at most. */
static uint32_t
widest_group(const struct settings *settings)
{
	uint32_t width = 1;

	for (size_t i = 0; i < settings->device_count; i++) {
		const struct device_settings *device = &settings->devices[i];

		for (int g = 0; g < device->group_count; g++)
			if (device->groups[g].count > width)
				width = device->groups[g].count;
	}
	return width;
}

struct recorder *
recorder_start(const struct settings *settings, struct recording *recording,
    struct lines_hook hook, struct error *error)
{
	struct recorder *recorder = calloc(1, sizeof(*recorder));

	if (recorder == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	recorder->recording = recording;
	atomic_init(&recorder->settings, settings);
	recorder->filing = filing_open(settings, error);
	if (recorder->filing == NULL)
		goto fail;
	recorder->lines = lines_start(settings, recorder->filing, false, error);
	if (recorder->lines == NULL)
		goto fail;
	lines_set_hook(recorder->lines, hook);
	recorder->live = live_new(settings, recorder->filing);
	recorder->queue = queue_new(QUEUE_SLOTS, widest_group(settings));
	if (recorder->live == NULL || recorder->queue == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		goto fail;
	}
	if (recording != NULL)
		recording_begin(recording, settings);
	if (pthread_create(&recorder->thread, NULL, run, recorder) != 0) {
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
recorder_event(
    struct recorder *recorder, struct wall at, const char *kind, const char *text)
{
	filing_put_event(recorder->filing, FILING_LOGGER, at, kind, text);
}

void
recorder_adopt(struct recorder *recorder, const struct settings *settings)
{
	atomic_store(&recorder->next_settings, settings);
}

const struct settings *
recorder_settings(struct recorder *recorder)
{
	return atomic_load(&recorder->settings);
}

void
recorder_status(struct recorder *recorder, struct recorder_status *status)
{
	struct queue_status queue = queue_status(recorder->queue);

	filing_status(recorder->filing, &status->filing);
	status->queued = queue.waiting;
	status->queued_most = queue.most;
	status->dropped = queue.dropped;
	status->beat = atomic_load(&recorder->beat);
}

void
recorder_stop(struct recorder *recorder, struct recorder_status *last)
{
	queue_close(recorder->queue);
	pthread_join(recorder->thread, NULL);
	if (last != NULL)
		recorder_status(recorder, last);
	recorder_release(recorder);
}
