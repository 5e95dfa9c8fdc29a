/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/history.h"

#include "conf/settings.h"
#include "daemon/base/error.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Scans in a ring; row r of the ring holds `width` readings. */
struct history_ring {
	uint32_t device;
	uint32_t first, width;     /* within the device's channels */
	uint32_t first_channel;    /* the same, in the settings */
	size_t room, start, count; /* in rows */
	int64_t *sent_ns, *at_ns;  /* asked, answered */
	double *values;
	uint32_t *raws;
	unsigned char *qualities;
};

struct history {
	const struct settings *settings; /* lent */
	uint32_t line;
	size_t bytes; /* in all rings */
	size_t ring_count, ring_room;
	struct history_ring *rings;
	const double *correction; /* by channel; NULL: none */
	const double *period_s;   /* by channel; NULL: as the settings say */
};

static size_t
row_of(const struct history_ring *ring, size_t index)
{
	return (ring->start + index) % ring->room;
}

/* A ring for `width` of the device's channels from number `first` on; NULL when memory is
 * short. */
static struct history_ring *
add_ring(struct history *history, uint32_t device, uint32_t first, uint32_t width)
{
	uint32_t channel = history->settings->devices[device].first_channel + first;

	if (history->ring_count == history->ring_room) {
		size_t room = history->ring_room > 0 ? 2 * history->ring_room : 16;
		struct history_ring *grown =
		    realloc(history->rings, room * sizeof(*grown));

		if (grown == NULL)
			return NULL;
		history->rings = grown;
		history->ring_room = room;
	}
	history->rings[history->ring_count] = (struct history_ring){
	    .device = device,
	    .first = first,
	    .width = width,
	    .first_channel = channel,
	};
	return &history->rings[history->ring_count++];
}

struct history *
history_new(const struct settings *settings, uint32_t line)
{
	struct history *history = calloc(1, sizeof(*history));

	if (history == NULL)
		return NULL;
	history->settings = settings;
	history->line = line;
	for (size_t i = 0; i < settings->device_count; i++) {
		const struct device_settings *device = &settings->devices[i];

		for (int g = 0; device->line == line && g < device->group_count; g++)
			if (add_ring(history, (uint32_t)i, device->groups[g].first,
				device->groups[g].count) == NULL) {
				history_free(history);
				return NULL;
			}
	}
	return history;
}

static void
ring_release(struct history_ring *ring)
{
	free(ring->sent_ns);
	free(ring->at_ns);
	free(ring->values);
	free(ring->raws);
	free(ring->qualities);
}

void
history_correct(struct history *history, const double *correction)
{
	history->correction = correction;
}

void
history_paced(struct history *history, const double *period_s)
{
	history->period_s = period_s;
}

double
history_period_s(const struct history *history, uint32_t channel)
{
	return history->period_s != NULL
	           ? history->period_s[channel]
	           : history->settings->channels[channel].period_s;
}

void
history_free(struct history *history)
{
	if (history == NULL)
		return;
	for (size_t i = 0; i < history->ring_count; i++)
		ring_release(&history->rings[i]);
	free(history->rings);
	free(history);
}

/* What `room` rows take. */
static size_t
ring_bytes(const struct history_ring *ring, size_t room)
{
	size_t reading =
	    sizeof(*ring->values) + sizeof(*ring->raws) + sizeof(*ring->qualities);

	return room * (ring->width * reading + 2 * sizeof(int64_t));
}

/* Allocates `ring->room` rows; false, and nothing is allocated, when memory is short. */
static bool
ring_allocate(struct history_ring *ring)
{
	size_t cells = ring->room * ring->width;

	ring->sent_ns = malloc(ring->room * sizeof(*ring->sent_ns));
	ring->at_ns = malloc(ring->room * sizeof(*ring->at_ns));
	ring->values = malloc(cells * sizeof(*ring->values));
	ring->raws = malloc(cells * sizeof(*ring->raws));
	ring->qualities = malloc(cells * sizeof(*ring->qualities));
	if (ring->sent_ns != NULL && ring->at_ns != NULL && ring->values != NULL &&
	    ring->raws != NULL && ring->qualities != NULL)
		return true;
	ring_release(ring);
	return false;
}

static void
copy_row(const struct history_ring *from, size_t from_row, struct history_ring *to,
    size_t to_row)
{
	size_t width = from->width, source = from_row * width, target = to_row * width;

	to->sent_ns[to_row] = from->sent_ns[from_row];
	to->at_ns[to_row] = from->at_ns[from_row];
	memcpy(to->values + target, from->values + source, width * sizeof(*to->values));
	memcpy(to->raws + target, from->raws + source, width * sizeof(*to->raws));
	memcpy(to->qualities + target, from->qualities + source, width);
}

/* Twice the room, the rows in order from 0; false past the line's bound. */
static bool
ring_grow(struct history *history, struct history_ring *ring)
{
	struct history_ring grown = *ring, old = *ring;
	size_t more;

	grown.room = ring->room > 0 ? ring->room * 2 : 256;
	grown.start = 0;
	more = ring_bytes(ring, grown.room) - ring_bytes(ring, ring->room);
	if (ring->room > 0 && history->bytes + more > HISTORY_BYTES_MAX)
		return false;
	if (!ring_allocate(&grown))
		return false;
	for (size_t i = 0; i < ring->count; i++)
		copy_row(&old, row_of(&old, i), &grown, i);
	*ring = grown;
	ring_release(&old);
	history->bytes += more;
	return true;
}

static void
ring_drop_oldest(struct history_ring *ring)
{
	ring->start = row_of(ring, 1);
	ring->count--;
}

static void
ring_take(struct history *history, struct history_ring *ring, const struct scan *scan)
{
	size_t row;

	if (scan->sent.ns > scan->at.ns ||
	    (ring->count > 0 &&
		scan->at.ns < ring->at_ns[row_of(ring, ring->count - 1)]))
		return;
	while (ring->count > 0 && ring->at_ns[ring->start] <
				      scan->at.ns - HISTORY_KEEP_S * CLOCK_SECOND_NS)
		ring_drop_oldest(ring);
	if (ring->count == ring->room && !ring_grow(history, ring) && ring->count > 0)
		ring_drop_oldest(ring);
	if (ring->room == 0)
		return; /* memory is short */
	row = row_of(ring, ring->count++);
	ring->sent_ns[row] = scan->sent.ns;
	ring->at_ns[row] = scan->at.ns;
	for (uint32_t i = 0; i < ring->width; i++) {
		ring->values[row * ring->width + i] = scan->readings[i].value;
		ring->raws[row * ring->width + i] = scan->readings[i].raw;
		ring->qualities[row * ring->width + i] =
		    (unsigned char)scan->readings[i].quality;
	}
}

/* The ring of just these channels: a trace that was read under another grouping has others
 * than the settings have groups.  NULL when there can be none. */
static struct history_ring *
ring_of(struct history *history, const struct scan *scan)
{
	const struct device_settings *device =
	    &history->settings->devices[scan->device];

	for (size_t i = 0; i < history->ring_count; i++) {
		struct history_ring *ring = &history->rings[i];

		if (ring->device == scan->device && ring->first == scan->first &&
		    ring->width == scan->count)
			return ring;
	}
	if (device->line != history->line || scan->count == 0 ||
	    scan->first >= device->channel_count ||
	    scan->count > device->channel_count - scan->first)
		return NULL;
	return add_ring(history, scan->device, scan->first, scan->count);
}

void
history_take(struct history *history, const struct scan *scan)
{
	struct history_ring *ring = ring_of(history, scan);

	if (ring != NULL)
		ring_take(history, ring, scan);
}

void
history_forget(struct history *history, struct mono before)
{
	for (size_t i = 0; i < history->ring_count; i++) {
		struct history_ring *ring = &history->rings[i];

		while (ring->count > 0 && ring->at_ns[ring->start] < before.ns)
			ring_drop_oldest(ring);
	}
}

/* The index of the first row whose stamp is at or after `ns`. */
static size_t
ring_search(const struct history_ring *ring, const int64_t *stamps, int64_t ns)
{
	size_t low = 0, high = ring->count;

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (stamps[row_of(ring, middle)] < ns)
			low = middle + 1;
		else
			high = middle;
	}
	return low;
}

/* Where the channel's readings are: of the rings that have it, one that has any; NULL when
 * none has it. */
static const struct history_ring *
ring_with(const struct history *history, uint32_t channel)
{
	const struct history_ring *found = NULL;

	for (size_t i = 0; i < history->ring_count; i++) {
		const struct history_ring *ring = &history->rings[i];

		if (channel - ring->first_channel < ring->width &&
		    (found == NULL || found->count == 0))
			found = ring;
	}
	return found;
}

struct series
history_series(
    const struct history *history, uint32_t channel, struct mono from, struct mono to)
{
	const struct history_ring *ring = ring_with(history, channel);
	struct series series = {.ring = ring};

	if (ring == NULL)
		return series;
	series.period_s = history_period_s(history, channel);
	series.column = channel - ring->first_channel;
	if (history->correction != NULL) {
		series.correction = history->correction[channel];
		series.min_si = history->settings->channels[channel].min_si;
		series.max_si = history->settings->channels[channel].max_si;
	}
	series.first = ring_search(ring, ring->sent_ns, from.ns);
	series.count = ring_search(ring, ring->at_ns, to.ns + 1);
	series.count -= series.count > series.first ? series.first : series.count;
	return series;
}

static struct reading
cell_reading(const struct history_ring *ring, size_t cell)
{
	return (struct reading){
	    .value = ring->values[cell],
	    .quality = (enum quality)ring->qualities[cell],
	    .raw = ring->raws[cell],
	};
}

struct mono
series_time(const struct series *series, size_t index)
{
	return (struct mono){
	    series->ring->at_ns[row_of(series->ring, series->first + index)]};
}

struct reading
series_reading(const struct series *series, size_t index)
{
	const struct history_ring *ring = series->ring;

	struct reading reading = cell_reading(
	    ring, row_of(ring, series->first + index) * ring->width + series->column);

	reading.value += series->correction;
	/* what cannot be is no reading; as it came that was looked at already */
	if (reading.quality == QUALITY_GOOD && fabs(series->correction) > 0 &&
	    (reading.value < series->min_si || reading.value > series->max_si)) {
		reading.quality = QUALITY_OUT_OF_RANGE;
		reading.value = NAN;
	}
	return reading;
}

/* --- every scan, in the order of time ----------------------------------------------- */

/* The ring whose next scan was answered first; their number when none has one left. */
static size_t
earliest_ring(const struct history *history, const size_t *next, const size_t *end)
{
	size_t best = history->ring_count;
	int64_t best_ns = INT64_MAX;

	for (size_t i = 0; i < history->ring_count; i++) {
		const struct history_ring *ring = &history->rings[i];

		if (next[i] < end[i] && ring->at_ns[row_of(ring, next[i])] < best_ns) {
			best_ns = ring->at_ns[row_of(ring, next[i])];
			best = i;
		}
	}
	return best;
}

static void
copy_scan(const struct history_ring *ring, size_t row, struct scan *scan)
{
	scan->device = ring->device;
	scan->first = ring->first;
	scan->sent.ns = ring->sent_ns[row];
	scan->at.ns = ring->at_ns[row];
	scan->count = ring->width;
	for (uint32_t i = 0; i < ring->width; i++)
		scan->readings[i] = cell_reading(ring, row * ring->width + i);
}

int
history_scans(const struct history *history, struct mono from, struct mono to,
    int (*take)(void *arg, const struct scan *scan), void *arg)
{
	size_t *next = calloc(history->ring_count + 1, sizeof(*next));
	size_t *end = calloc(history->ring_count + 1, sizeof(*end)), i;
	uint32_t widest = 0;
	struct scan *scan;
	int rc = 0;

	for (i = 0; i < history->ring_count; i++)
		if (history->rings[i].width > widest)
			widest = history->rings[i].width;
	scan = calloc(1, scan_bytes(widest));
	if (next == NULL || end == NULL || scan == NULL) {
		rc = ERROR_MEMORY;
		goto out;
	}
	for (i = 0; i < history->ring_count; i++) {
		const struct history_ring *ring = &history->rings[i];

		next[i] = ring_search(ring, ring->sent_ns, from.ns);
		end[i] = ring_search(ring, ring->at_ns, to.ns + 1);
	}
	while (
	    rc == 0 && (i = earliest_ring(history, next, end)) < history->ring_count) {
		const struct history_ring *ring = &history->rings[i];

		copy_scan(ring, row_of(ring, next[i]++), scan);
		rc = take(arg, scan);
	}
out:
	free(next);
	free(end);
	free(scan);
	return rc;
}
