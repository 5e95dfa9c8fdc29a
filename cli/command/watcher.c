/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/watcher.h"

#include <math.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/clock.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/shot/scanned.h"

struct latest {
	bool heard;
	struct reading last;
	struct mono good_at; /* ns 0: never */
};

struct watched_line {
	struct watcher *watcher;
	uint32_t number;         /* in the settings */
	struct tracker *tracker; /* NULL: not watched */
	struct duty *duty;
	int64_t shots, empty_formed;
	enum shot_outcome last_outcome;
	uint32_t last_flags;
	char last_reason[128];
	struct wall last_at;
	char event[WATCH_EVENT];
};

struct watcher {
	const struct settings *settings;
	struct mono began;
	pthread_mutex_t lock;       /* guards all below */
	struct poller **pollers;    /* by bus; NULL: no device of its is watched */
	struct watched_line *lines; /* by line of the settings */
	struct latest *latest;      /* by channel of the settings */
};

/* --- from the pollers' threads, under the lock ----------------------------------------------- */

/* As the tracker says it of signals that contradict each other. */
static bool
is_empty_formed(const struct shot *shot)
{
	return shot->outcome == SHOT_PARTIAL && (shot->flags & SHOT_FLAG_SEQUENCE) &&
	       strstr(shot->reason, "no sheet in the frame");
}

static void
take_shot(void *arg, struct shot *shot)
{
	struct watched_line *line = arg;

	line->shots++;
	line->empty_formed += is_empty_formed(shot);
	line->last_outcome = shot->outcome;
	line->last_flags = shot->flags;
	line->last_at = shot->closed_at;
	text_copy(line->last_reason, sizeof line->last_reason, shot->reason);
	shot_free(shot);
}

static void
take_event(void *arg, struct wall at, const char *kind, const char *text)
{
	struct watched_line *line = arg;

	(void)at, (void)kind;
	text_copy(line->event, sizeof line->event, text);
}

/* Set points that are read as a heat begins. */
static void
take_heat(void *arg)
{
	const struct watched_line *line = arg;
	const struct watcher *watcher = line->watcher;

	for (size_t i = 0; i < watcher->settings->bus_count; i++)
		if (watcher->pollers[i])
			poller_hurry(watcher->pollers[i], line->number);
}

static void
keep_readings(struct watcher *watcher, const struct scan *scan)
{
	uint32_t first = scanned_first(watcher->settings, scan);

	for (uint32_t i = 0; i < scan->count; i++) {
		struct latest *latest = &watcher->latest[first + i];
		latest->heard = true;
		latest->last = scan->readings[i];
		if (latest->last.quality == QUALITY_GOOD)
			latest->good_at = scan->at;
	}
}

static void
take_scan(void *arg, const struct scan *scan)
{
	struct watcher *watcher = arg;
	struct watched_line *line =
	    &watcher->lines[watcher->settings->devices[scan->device].line];

	if (!line->tracker) /* a bus may have devices of other lines */
		return;
	pthread_mutex_lock(&watcher->lock);
	keep_readings(watcher, scan);
	tracker_scan(line->tracker, scan);
	duty_scan(line->duty, scan);
	pthread_mutex_unlock(&watcher->lock);
}

/* --- starting and ending ------------------------------------------------------------------------ */

static bool
start_line(struct watcher *watcher, uint32_t i)
{
	struct watched_line *line = &watcher->lines[i];
	const struct tracker_start start = {.no_traces = true};
	const struct tracker_sink sink = {
	    .shot = take_shot, .event = take_event, .heat = take_heat, .arg = line};

	line->watcher = watcher;
	line->number = i;
	line->duty = duty_new(watcher->settings, i);
	line->tracker = tracker_new(watcher->settings, i, start, sink);
	return line->duty && line->tracker;
}

static bool
start_lines(struct watcher *watcher, int line)
{
	for (uint32_t i = 0; i < watcher->settings->line_count; i++)
		if ((line < 0 || (uint32_t)line == i) && !start_line(watcher, i))
			return false;
	return true;
}

/* Those that run already may have to hurry it. */
static void
set_poller(struct watcher *watcher, size_t bus, struct poller *poller)
{
	pthread_mutex_lock(&watcher->lock);
	watcher->pollers[bus] = poller;
	pthread_mutex_unlock(&watcher->lock);
}

static void
stop_pollers(struct watcher *watcher)
{
	for (size_t i = 0; watcher->pollers && i < watcher->settings->bus_count; i++) {
		struct poller *poller = watcher->pollers[i];
		set_poller(watcher, i, NULL);
		poller_stop(poller);
	}
}

static int
start_pollers(struct watcher *watcher, struct error *error)
{
	const struct settings *settings = watcher->settings;

	for (size_t i = 0; i < settings->device_count; i++) {
		const struct device_settings *device = &settings->devices[i];
		struct poller *poller;
		if (watcher->pollers[device->bus] ||
		    !watcher->lines[device->line].tracker)
			continue;
		poller = poller_start(settings, device->bus, take_scan, watcher, error);
		if (!poller)
			return ERROR_IO;
		set_poller(watcher, device->bus, poller);
	}
	return 0;
}

static struct watcher *
watcher_new(const struct settings *settings)
{
	struct watcher *watcher = calloc(1, sizeof *watcher);

	if (!watcher)
		return NULL;
	watcher->settings = settings;
	watcher->began = clock_mono();
	pthread_mutex_init(&watcher->lock, NULL);
	watcher->pollers = calloc(settings->bus_count + 1, sizeof(struct poller *));
	watcher->lines = calloc(settings->line_count + 1, sizeof *watcher->lines);
	watcher->latest = calloc(settings->channel_count + 1, sizeof *watcher->latest);
	if (watcher->pollers && watcher->lines && watcher->latest)
		return watcher;
	watcher_stop(watcher);
	return NULL;
}

struct watcher *
watcher_start(const struct settings *settings, int line, struct error *error)
{
	struct watcher *watcher = watcher_new(settings);

	if (!watcher || !start_lines(watcher, line))
		error_set(error, ERROR_MEMORY, "out of memory");
	else if (start_pollers(watcher, error) == 0)
		return watcher;
	watcher_stop(watcher);
	return NULL;
}

void
watcher_stop(struct watcher *watcher)
{
	if (!watcher)
		return;
	stop_pollers(watcher);
	for (size_t i = 0; watcher->lines && i < watcher->settings->line_count; i++) {
		if (watcher->lines[i].tracker)
			tracker_free(watcher->lines[i].tracker);
		if (watcher->lines[i].duty)
			duty_free(watcher->lines[i].duty);
	}
	pthread_mutex_destroy(&watcher->lock);
	free(watcher->pollers);
	free(watcher->lines);
	free(watcher->latest);
	free(watcher);
}

/* --- looking ---------------------------------------------------------------------------------------- */

static double
since_s(struct mono from, struct mono to)
{
	return (double)(to.ns - from.ns) / (double)CLOCK_SECOND_NS;
}

static void
look_at_devices(struct watcher *watcher, struct watch_view *view)
{
	const struct settings *settings = watcher->settings;
	struct device_status list[SETTINGS_DEVICES];

	for (size_t i = 0; i < settings->device_count; i++)
		view->devices[i] = (struct device_status){.answering = -1};
	for (size_t bus = 0; bus < settings->bus_count; bus++) {
		size_t count = 0;
		if (watcher->pollers[bus])
			count = poller_status(
			    watcher->pollers[bus], list, SETTINGS_DEVICES);
		for (size_t i = 0; i < count; i++)
			view->devices[list[i].device] = list[i];
	}
}

static void
look_at_line(struct watcher *watcher, uint32_t i, struct mono now, struct wall wall,
    struct watch_line *to)
{
	const struct watched_line *line = &watcher->lines[i];

	to->line = i;
	to->place_count = tracker_places(line->tracker, now, to->places);
	to->bit_count =
	    duty_bits(line->duty, to->bits, watcher->settings->channel_count);
	to->cycles = duty_cycles(line->duty);
	struct mono until = duty_until(line->duty);
	to->cycles_until.ns = until.ns ? wall.ns - (now.ns - until.ns) : 0;
	to->shots = line->shots;
	to->empty_formed = line->empty_formed;
	to->last_outcome = line->last_outcome;
	to->last_flags = line->last_flags;
	to->last_at = line->last_at;
	text_copy(to->last_reason, sizeof to->last_reason, line->last_reason);
	text_copy(to->event, sizeof to->event, line->event);
}

void
watcher_look(struct watcher *watcher, struct watch_view *view)
{
	const struct settings *settings = watcher->settings;
	struct mono now;

	look_at_devices(watcher, view);
	pthread_mutex_lock(&watcher->lock);
	clock_both(&now, &view->at); /* no reading that is taken is later */
	view->watched_s = since_s(watcher->began, now);
	view->line_count = 0;
	for (uint32_t i = 0; i < settings->line_count; i++)
		if (watcher->lines[i].tracker)
			look_at_line(watcher, i, now, view->at,
			    &view->lines[view->line_count++]);
	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct latest *latest = &watcher->latest[i];
		view->readings[i] = (struct watch_reading){
		    .heard = latest->heard,
		    .last = latest->last,
		    .age_s = latest->good_at.ns ? since_s(latest->good_at, now) : NAN,
		};
	}
	pthread_mutex_unlock(&watcher->lock);
}

/* Every group was asked for; of a device that does not answer, one. */
static bool
is_asked(const struct watcher *watcher, const struct device_settings *device)
{
	const struct latest *latest = &watcher->latest[device->first_channel];
	bool silent = false, all = true;

	for (int g = 0; g < device->group_count; g++) {
		const struct latest *first = &latest[device->groups[g].first];
		all &= first->heard;
		silent |= first->heard && first->last.quality == QUALITY_COMM_FAULT;
	}
	return all || silent;
}

bool
watcher_asked_all(struct watcher *watcher)
{
	const struct settings *settings = watcher->settings;
	bool all = true;

	pthread_mutex_lock(&watcher->lock);
	for (size_t i = 0; i < settings->device_count; i++)
		if (watcher->lines[settings->devices[i].line].tracker)
			all &= is_asked(watcher, &settings->devices[i]);
	pthread_mutex_unlock(&watcher->lock);
	return all;
}
