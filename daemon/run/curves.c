/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/curves.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/publish/reading_pack.h"

enum { OPEN = 2 }; /* intervals of a line that may be under way at once */

/* A channel in an interval. */
struct cell {
	double mean, last; /* of the good ones */
	uint32_t polls, good;
};

/* Where a line is.  Interval n begins at n times the period; n is in slot n % OPEN. */
struct place {
	bool begun;
	int64_t first; /* the earliest interval that is not given out */
};

struct curves {
	const struct settings *settings;
	int64_t period_ns;
	struct curves_sink sink;
	int64_t late;
	struct place *places;             /* by line */
	struct cell *cells[OPEN];         /* by channel */
	struct reading_channel *outgoing; /* room for all channels of a line */
};

struct curves *
curves_new(const struct settings *settings, double period_s, struct curves_sink sink)
{
	struct curves *curves = calloc(1, sizeof(*curves));
	bool whole;

	if (curves == NULL)
		return NULL;
	curves->settings = settings;
	curves->period_ns = (int64_t)fmax(1, round(period_s)) * CLOCK_SECOND_NS;
	curves->sink = sink;
	curves->places = calloc(settings->line_count + 1, sizeof(*curves->places));
	curves->outgoing =
	    calloc(settings->channel_count + 1, sizeof(*curves->outgoing));
	whole = curves->places != NULL && curves->outgoing != NULL;
	for (int i = 0; i < OPEN; i++) {
		curves->cells[i] =
		    calloc(settings->channel_count + 1, sizeof(struct cell));
		whole = whole && curves->cells[i] != NULL;
	}
	if (whole)
		return curves;
	curves_free(curves);
	return NULL;
}

void
curves_free(struct curves *curves)
{
	if (curves == NULL)
		return;
	for (int i = 0; i < OPEN; i++)
		free(curves->cells[i]);
	free(curves->outgoing);
	free(curves->places);
	free(curves);
}

int64_t
curves_period_s(const struct curves *curves)
{
	return curves->period_ns / CLOCK_SECOND_NS;
}

int64_t
curves_late(const struct curves *curves)
{
	return curves->late;
}

void
curves_adopt(
    struct curves *curves, const struct settings *settings, struct curves_sink sink)
{
	curves->settings = settings;
	curves->sink = sink;
}

/* The interval that an instant is in; also before 1970. */
static int64_t
interval_of(const struct curves *curves, struct wall at)
{
	int64_t number = at.ns / curves->period_ns;

	return number - (at.ns % curves->period_ns < 0);
}

static struct cell *
cells_of(const struct curves *curves, int64_t interval)
{
	return curves->cells[interval & (OPEN - 1)];
}

/* --- out ------------------------------------------------------------------------------ */

/* Adds what the channels of a device read, and empties their cells. */
static size_t
gather(struct curves *curves, const struct device_settings *device, struct cell *cells,
    size_t count)
{
	for (uint32_t i = 0; i < device->channel_count; i++) {
		uint32_t at = device->first_channel + i;
		const struct channel_settings *channel =
		    &curves->settings->channels[at];
		struct cell *cell = &cells[at];

		if (cell->polls == 0)
			continue;
		curves->outgoing[count++] =
		    (struct reading_channel){.device = device->name,
			.channel = channel->name,
			.role = role_text(channel->role),
			.mean = cell->good > 0 ? cell->mean : NAN,
			.last = cell->good > 0 ? cell->last : NAN,
			.quality = (double)cell->good / cell->polls};
		*cell = (struct cell){0};
	}
	return count;
}

/* Gives out a line's first interval; the next one is the first then. */
static void
give_out(struct curves *curves, uint32_t line)
{
	const struct settings *settings = curves->settings;
	struct place *place = &curves->places[line];
	struct cell *cells = cells_of(curves, place->first);
	size_t count = 0;

	for (size_t i = 0; i < settings->device_count; i++)
		if (settings->devices[i].line == line)
			count = gather(curves, &settings->devices[i], cells, count);
	place->first++;
	if (count > 0)
		curves->sink.interval(curves->sink.arg, line,
		    (struct wall){place->first * curves->period_ns}, curves->outgoing,
		    count);
}

/* Gives out all of a line's intervals before `next`, which is the first then. */
static void
give_out_until(struct curves *curves, uint32_t line, int64_t next)
{
	struct place *place = &curves->places[line];

	for (int i = 0; i < OPEN && place->first < next; i++)
		give_out(curves, line);
	if (place->first < next)
		place->first = next;
}

/* --- in ------------------------------------------------------------------------------- */

/* Whether the clock was set back from where the line is. */
static bool
set_back(const struct curves *curves, const struct place *place, struct wall at)
{
	return place->first * curves->period_ns - at.ns >
	       CURVES_BACK_S * CLOCK_SECOND_NS;
}

static void
add(struct cell *cell, const struct reading *reading)
{
	if (reading->quality == QUALITY_STALE)
		return;
	cell->polls++;
	if (reading->quality != QUALITY_GOOD)
		return;
	cell->good++;
	cell->last = reading->value;
	cell->mean += (reading->value - cell->mean) / cell->good;
}

void
curves_scan(struct curves *curves, const struct scan *scan)
{
	const struct device_settings *device = &curves->settings->devices[scan->device];
	struct place *place = &curves->places[device->line];
	int64_t interval = interval_of(curves, scan->wall);
	struct cell *cells;

	if (place->begun && set_back(curves, place, scan->wall)) {
		give_out_until(curves, device->line, place->first + OPEN);
		place->begun = false;
	}
	if (!place->begun)
		*place = (struct place){.begun = true, .first = interval};
	if (interval < place->first) {
		curves->late++;
		return;
	}
	give_out_until(curves, device->line, interval - OPEN + 1);
	cells = cells_of(curves, interval) + device->first_channel + scan->first;
	for (uint32_t i = 0; i < scan->count; i++)
		add(&cells[i], &scan->readings[i]);
}

void
curves_pass(struct curves *curves, struct wall now)
{
	struct wall past = {now.ns - CURVES_WAIT_S * CLOCK_SECOND_NS};
	int64_t interval = interval_of(curves, past);

	for (size_t i = 0; i < curves->settings->line_count; i++)
		if (curves->places[i].begun && curves->places[i].first < interval)
			give_out_until(curves, (uint32_t)i, interval);
}
