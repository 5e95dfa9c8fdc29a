/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/history.h"

#include "conf/settings.h"

#include <stdlib.h>
#include <string.h>

/* Scans in a ring; row r of the ring holds `width` readings. */
struct history_ring {
	uint32_t device, width;
	uint32_t first_channel;
	double period_s;
	size_t room, start, count; /* in rows */
	int64_t *sent_ns, *at_ns;  /* asked, answered */
	double *values;
	unsigned char *qualities;
};

struct history {
	size_t bytes; /* in all rings */
	size_t ring_count;
	struct history_ring *rings;
};

static size_t
row_of(const struct history_ring *ring, size_t index)
{
	return (ring->start + index) % ring->room;
}

struct history *
history_new(const struct settings *settings, uint32_t line)
{
	struct history *history = calloc(1, sizeof(*history));

	if (history == NULL)
		return NULL;
	history->rings = calloc(settings->device_count, sizeof(*history->rings));
	if (history->rings == NULL && settings->device_count > 0) {
		free(history);
		return NULL;
	}
	for (size_t i = 0; i < settings->device_count; i++) {
		const struct device_settings *device = &settings->devices[i];

		if (device->line != line)
			continue;
		history->rings[history->ring_count++] = (struct history_ring){
		    .device = (uint32_t)i,
		    .width = device->channel_count,
		    .first_channel = device->first_channel,
		    .period_s = device->period_s,
		};
	}
	return history;
}

void
history_free(struct history *history)
{
	if (history == NULL)
		return;
	for (size_t i = 0; i < history->ring_count; i++) {
		free(history->rings[i].sent_ns);
		free(history->rings[i].at_ns);
		free(history->rings[i].values);
		free(history->rings[i].qualities);
	}
	free(history->rings);
	free(history);
}

/* What `room` rows take. */
static size_t
ring_bytes(const struct history_ring *ring, size_t room)
{
	return room * (ring->width * (sizeof(double) + 1) + 2 * sizeof(int64_t));
}

/* Twice the room, the rows in order from 0; false past the line's bound. */
static bool
ring_grow(struct history *history, struct history_ring *ring)
{
	size_t room = ring->room > 0 ? ring->room * 2 : 256;
	size_t more = ring_bytes(ring, room) - ring_bytes(ring, ring->room);

	if (ring->room > 0 && history->bytes + more > HISTORY_BYTES_MAX)
		return false;
	int64_t *sent_ns = malloc(room * sizeof(*sent_ns));
	int64_t *at_ns = malloc(room * sizeof(*at_ns));
	double *values = malloc(room * ring->width * sizeof(*values));
	unsigned char *qualities = malloc(room * ring->width);

	if (sent_ns == NULL || at_ns == NULL || values == NULL || qualities == NULL) {
		free(sent_ns);
		free(at_ns);
		free(values);
		free(qualities);
		return false;
	}
	for (size_t i = 0; i < ring->count; i++) {
		size_t row = row_of(ring, i);

		sent_ns[i] = ring->sent_ns[row];
		at_ns[i] = ring->at_ns[row];
		memcpy(values + i * ring->width, ring->values + row * ring->width,
		    ring->width * sizeof(*values));
		memcpy(qualities + i * ring->width, ring->qualities + row * ring->width,
		    ring->width);
	}
	free(ring->sent_ns);
	free(ring->at_ns);
	free(ring->values);
	free(ring->qualities);
	ring->sent_ns = sent_ns;
	ring->at_ns = at_ns;
	ring->values = values;
	ring->qualities = qualities;
	ring->room = room;
	ring->start = 0;
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

	if (scan->count != ring->width || ring->width == 0)
		return;
	if (ring->count > 0 && scan->at.ns < ring->at_ns[row_of(ring, ring->count - 1)])
		return;
	while (ring->count > 0 && ring->at_ns[ring->start] <
				      scan->at.ns - HISTORY_KEEP_S * CLOCK_SECOND_NS)
		ring_drop_oldest(ring);
	if (ring->count == ring->room && !ring_grow(history, ring)) {
		if (ring->room == 0)
			return;
		ring_drop_oldest(ring);
	}
	row = row_of(ring, ring->count++);
	ring->sent_ns[row] = scan->sent.ns;
	ring->at_ns[row] = scan->at.ns;
	for (uint32_t i = 0; i < ring->width; i++) {
		ring->values[row * ring->width + i] = scan->readings[i].value;
		ring->qualities[row * ring->width + i] =
		    (unsigned char)scan->readings[i].quality;
	}
}

void
history_take(struct history *history, const struct scan *scan)
{
	for (size_t i = 0; i < history->ring_count; i++)
		if (history->rings[i].device == scan->device)
			ring_take(history, &history->rings[i], scan);
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

struct series
history_series(
    const struct history *history, uint32_t channel, struct mono from, struct mono to)
{
	for (size_t i = 0; i < history->ring_count; i++) {
		const struct history_ring *ring = &history->rings[i];
		struct series series = {.ring = ring, .period_s = ring->period_s};

		if (channel < ring->first_channel ||
		    channel >= ring->first_channel + ring->width)
			continue;
		series.column = channel - ring->first_channel;
		series.first = ring_search(ring, ring->sent_ns, from.ns);
		series.count = ring_search(ring, ring->at_ns, to.ns + 1);
		series.count -=
		    series.count > series.first ? series.first : series.count;
		return series;
	}
	return (struct series){.ring = NULL};
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
	size_t cell =
	    row_of(series->ring, series->first + index) * series->ring->width +
	    series->column;

	return (struct reading){
	    .value = series->ring->values[cell],
	    .quality = (enum quality)series->ring->qualities[cell],
	};
}
