/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/set_points.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/base/text.h"
#include "daemon/shot/edge.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/roles.h"
#include "daemon/shot/scanned.h"

#define OLD_PERIODS 4.0 /* what is polled: unread for this many polls ... */
#define OLD_LEAST_S 5.0 /* ... and this long it is too old */
#define WAIT_S 5.0 /* for what is read as a heat begins (common practice, no source) */

enum {
	DECIMALS_MAX = 4,
	TAIL = sizeof(", and 4096 more"), /* kept free behind what is told */
};

struct point {
	double now; /* latest good value, SI; NAN: none yet */
	struct mono sent, at;
	double then; /* as the last heat began; NAN: not known at any yet */
	/* Of the heat at hand. */
	double held; /* NAN: not known */
	bool told;   /* not awaited */
};

struct set_points {
	const struct settings *settings; /* lent */
	const uint32_t *channels;        /* lent by the roles */
	size_t count;
	struct point *points;
	int recipe;    /* of the last heat; -1 unknown */
	uint64_t hash; /* of the last heat whose values were all known; 0: none */
	/* A heat has begun, and what is to be read then is still awaited. */
	bool awaited;
	struct edge began;
	int began_recipe;
	struct mono asked; /* since then; ns 0: from the next look on */
};

struct set_points *
set_points_new(const struct settings *settings, const struct roles *roles)
{
	struct set_points *points = calloc(1, sizeof(*points));

	if (points == NULL)
		return NULL;
	*points = (struct set_points){.settings = settings,
	    .channels = roles->set_point,
	    .count = roles->set_point_count,
	    .points = calloc(roles->set_point_count + 1, sizeof(*points->points)),
	    .recipe = -1};
	if (points->points == NULL) {
		free(points);
		return NULL;
	}
	for (size_t i = 0; i < points->count; i++)
		points->points[i] =
		    (struct point){.now = NAN, .then = NAN, .held = NAN};
	return points;
}

void
set_points_free(struct set_points *points)
{
	if (points == NULL)
		return;
	free(points->points);
	free(points);
}

void
set_points_adopt(struct set_points *points, const struct settings *settings)
{
	points->settings = settings;
}

static const struct channel_settings *
channel_of(const struct set_points *points, size_t i)
{
	return &points->settings->channels[points->channels[i]];
}

void
set_points_scan(struct set_points *points, const struct scan *scan)
{
	for (size_t i = 0; i < points->count; i++) {
		const struct reading *reading =
		    scanned_good(points->settings, scan, points->channels[i]);
		struct point *point = &points->points[i];

		if (reading == NULL)
			continue;
		point->now = reading->value;
		point->sent = scan->sent;
		point->at = scan->at;
		if (points->awaited && !point->told &&
		    scan->sent.ns >= points->began.at.ns) {
			point->held = point->now;
			point->told = true;
		}
	}
}

static bool
is_known(const struct set_points *points, size_t i, struct mono at)
{
	const struct point *point = &points->points[i];
	double period_s = channel_of(points, i)->period_s;
	double age_s = (double)(at.ns - point->at.ns) / (double)CLOCK_SECOND_NS;

	return !isnan(point->now) && age_s <= fmax(OLD_PERIODS * period_s, OLD_LEAST_S);
}

/* Of the values of the heat at hand, in order; 0 when one of them is not known. */
static uint64_t
hash_of(const struct set_points *points)
{
	uint64_t hash = 0;

	for (size_t i = 0; i < points->count; i++) {
		uint64_t chain[2] = {hash};

		if (isnan(points->points[i].held))
			return 0;
		memcpy(&chain[1], &points->points[i].held, sizeof(chain[1]));
		hash = text_hash((const char *)chain, sizeof(chain));
	}
	return hash;
}

/* Decimals that the device's own steps need; -1 when it has none (a float). */
static int
decimals_of(const struct channel_settings *channel)
{
	double step = channel->scale;
	int decimals = 0;

	if (channel->encoding == ENCODING_FLOAT32)
		return -1;
	while (decimals < DECIMALS_MAX && fabs(step - round(step)) > 1e-9) {
		step *= 10.0;
		decimals++;
	}
	return decimals;
}

static void
write_value(const struct channel_settings *channel, double value, char *to, size_t room)
{
	double shown = unit_from_si(channel->unit, channel->dimension, value);
	int decimals = decimals_of(channel);

	if (decimals < 0)
		snprintf(to, room, "%.7g", shown);
	else
		snprintf(to, room, "%.*f", decimals, shown);
}

/* "press: " before the first channel of a device: others may have one of that name. */
static const char *
device_before(const struct set_points *points, size_t i, int *told)
{
	int device = (int)channel_of(points, i)->device;

	if (device == *told)
		return "";
	*told = device;
	return points->settings->devices[device].name;
}

/* "press: zone_set_3 45.0 -> 47.0 %, ...": as many as fit, then how many more. */
static void
tell_changes(const struct set_points *points, char text[static SET_POINTS_TEXT])
{
	size_t length = 0, more = 0;
	int device = -1;

	for (size_t i = 0; i < points->count; i++) {
		const struct channel_settings *channel = channel_of(points, i);
		const struct point *point = &points->points[i];
		const char *unit = unit_text(channel->unit);
		char was[32], is[32], one[SET_POINTS_TEXT];
		int wrote;

		if (point->held == point->then)
			continue;
		write_value(channel, point->then, was, sizeof(was));
		write_value(channel, point->held, is, sizeof(is));
		const char *of = device_before(points, i, &device);
		wrote = snprintf(one, sizeof(one), "%s%s%s%s %s -> %s%s%s",
		    length > 0 ? ", " : "", of, of[0] != '\0' ? ": " : "",
		    channel->name, was, is, unit[0] != '\0' ? " " : "", unit);
		if (more > 0 || length + (size_t)wrote + TAIL > SET_POINTS_TEXT) {
			more++;
			continue;
		}
		memcpy(text + length, one, (size_t)wrote + 1);
		length += (size_t)wrote;
	}
	if (more > 0)
		snprintf(text + length, SET_POINTS_TEXT - length, "%sand %zu more",
		    length > 0 ? ", " : "", more);
}

/* --- a heat ------------------------------------------------------------------------- */

static void
settle(struct set_points *points, struct set_points_told *told)
{
	*told = (struct set_points_told){
	    .began = points->began.at, .wall = points->began.wall};
	points->awaited = false;
	told->hash = hash_of(points);
	if (told->hash == 0)
		return; /* what it was at the last heat still holds */
	if (points->hash != 0 && told->hash != points->hash &&
	    points->began_recipe == points->recipe)
		tell_changes(points, told->text);
	points->hash = told->hash;
	points->recipe = points->began_recipe;
	for (size_t i = 0; i < points->count; i++)
		points->points[i].then = points->points[i].held;
}

static bool
is_all_told(const struct set_points *points)
{
	for (size_t i = 0; i < points->count; i++)
		if (!points->points[i].told)
			return false;
	return true;
}

/* The value at the heat's beginning, as far as it is known already: of what is read then the
 * answer may have come while the edge was being debounced. */
static void
hold(struct set_points *points, size_t i)
{
	struct point *point = &points->points[i];
	struct mono at = points->began.at;
	bool at_heat = channel_of(points, i)->at_heat;
	bool known = at_heat ? point->sent.ns >= at.ns : is_known(points, i, at);

	point->held = known ? point->now : NAN;
	point->told = !at_heat || !isnan(point->held);
}

bool
set_points_begin(struct set_points *points, const struct edge *edge, int recipe,
    struct set_points_told *told)
{
	points->awaited = true;
	points->began = *edge;
	points->began_recipe = recipe;
	points->asked.ns = 0;
	for (size_t i = 0; i < points->count; i++)
		hold(points, i);
	if (!is_all_told(points))
		return false;
	settle(points, told);
	return true;
}

bool
set_points_look(
    struct set_points *points, struct mono now, struct set_points_told *told)
{
	double waited_s;

	if (!points->awaited)
		return false;
	if (points->asked.ns == 0)
		points->asked = now;
	waited_s = (double)(now.ns - points->asked.ns) / (double)CLOCK_SECOND_NS;
	if (!is_all_told(points) && waited_s <= WAIT_S)
		return false;
	settle(points, told);
	return true;
}

/* --- over a restart ----------------------------------------------------------------- */

/* Which channels they are, and in what order. */
static uint64_t
identity_of(const struct set_points *points)
{
	uint64_t identity = 0;

	for (size_t i = 0; i < points->count; i++) {
		const char *name = channel_of(points, i)->name;

		identity =
		    (identity << 1 | identity >> 63) ^ text_hash(name, strlen(name));
	}
	return identity;
}

/* What of a point outlives the logger; of other channels it is read and forgotten. */
static void
freeze_point(struct point *point, struct freeze *freeze)
{
	freeze_double(freeze, &point->then);
	freeze_double(freeze, &point->held);
	freeze_bool(freeze, &point->told);
}

void
set_points_freeze(struct set_points *points, struct freeze *freeze)
{
	uint64_t identity = identity_of(points), wanted = identity;
	uint64_t count = points->count;
	struct set_points saved = *points;
	bool same;

	freeze_u64(freeze, &identity);
	freeze_u64(freeze, &count);
	freeze_int(freeze, &saved.recipe);
	freeze_u64(freeze, &saved.hash);
	freeze_bool(freeze, &saved.awaited);
	freeze_edge(freeze, &saved.began);
	freeze_int(freeze, &saved.began_recipe);
	same = identity == wanted && count == points->count;
	for (uint64_t i = 0; i < count && !freeze->failed; i++) {
		struct point other = {.now = NAN};

		freeze_point(same ? &points->points[i] : &other, freeze);
	}
	/* Of other channels nothing can be said. */
	if (!freeze->thaw || !same || freeze->failed)
		return;
	saved.asked.ns = 0;
	*points = saved;
}
