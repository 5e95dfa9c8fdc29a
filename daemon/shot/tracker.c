/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/tracker.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/circumstances.h"
#include "daemon/shot/closing.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/lane.h"
#include "daemon/shot/place.h"
#include "daemon/shot/record.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/trace.h"

#define CLOCK_STEP_S 1.0 /* the wall clock moved against the monotonic one */
#define KEEP_BEFORE_S 60 /* readings kept from before the oldest sheet's heat */
#define SAVE_EVERY_S 10  /* so that a restart knows how long it was away */
#define SAVED_FORM 2     /* goes up when tracker_save changes */

struct tracker {
	const struct settings *settings;
	uint32_t line;
	struct tracker_sink sink;
	struct tracker_start start;
	struct history *history;
	struct pace pace;
	int lane_count;
	struct lane lanes[SETTINGS_SIDES];
	double
	    tool_mean_c[SETTINGS_SIDES]; /* uncorrected, of the shot given out last */
	struct mono gave_out[SETTINGS_SIDES]; /* when its sheet had left */

	struct closing
	    closing;       /* sheets that left and whose last readings are awaited */
	int64_t settle_ns; /* so long */
	bool started;      /* a first scan has come */
	bool thawed;       /* the lanes stand as they were saved */
	struct mono now, saved; /* of the last scan; when `moved` was told last */
	int64_t wall_offset_ns;
	bool wall_known;
};

static const struct line_settings *
line_of(const struct tracker *t)
{
	return &t->settings->lines[t->line];
}

static void
tell(struct tracker *t, struct wall at, const char *kind, const char *text)
{
	if (t->sink.event != NULL)
		t->sink.event(t->sink.arg, at, kind, text);
}

/* --- giving out ------------------------------------------------------------------- */

/* What people have told that holds for the record of a sheet. */
static struct circumstances
circumstances_of(const struct tracker *t, const struct sheet *sheet)
{
	struct circumstances circumstances =
	    circumstances_untold(t->settings, sheet->recipe);

	if (t->sink.circumstances != NULL)
		t->sink.circumstances(
		    t->sink.arg, sheet->recipe, sheet_filed_at(sheet), &circumstances);
	return circumstances;
}

/* Makes the record of a sheet that has left, and gives it out. */
static void
give_out(struct tracker *t, struct closed *closed)
{
	struct lane *lane = &t->lanes[closed->side];
	struct sheet *sheet = &closed->sheet;
	struct shot *shot = shot_new(lane->roles.all_count);
	struct circumstances circumstances = circumstances_of(t, sheet);
	struct feature_source source = {.settings = t->settings,
	    .line = line_of(t),
	    .roles = &lane->roles,
	    .history = t->history,
	    .sheet = sheet,
	    .circumstances = &circumstances};

	if (shot == NULL) {
		tell(t, sheet->left_wall, "lost", "a shot was lost: out of memory");
		return;
	}
	sheet->last_tool_mean_c = t->tool_mean_c[closed->side];
	if ((double)(sheet->left.ns - t->gave_out[closed->side].ns) / 1e9 >
	    line_of(t)->startup_after_s)
		sheet->last_tool_mean_c = NAN; /* a stop lies between them */
	t->gave_out[closed->side] = sheet->left;
	shot->line = t->line;
	shot->side = t->lane_count > 1 ? closed->side : -1;
	shot->shot_no = ++t->start.last_shot_no;
	history_correct(t->history, circumstances.correction);
	record_make(&source, shot);
	t->tool_mean_c[closed->side] = features_tool_mean_uncorrected_c(&source, shot);
	if (!t->start.no_traces)
		shot->trace = trace_make(&source, &shot->trace_bytes);
	t->sink.shot(t->sink.arg, shot);
}

static void
give_out_first(struct tracker *t)
{
	struct closed closed = closing_take(&t->closing);

	give_out(t, &closed);
}

/* Gives out the sheets that left long enough ago. */
static bool
close_due(struct tracker *t, struct mono now)
{
	bool any = false;

	while (t->closing.count > 0 &&
	       now.ns - t->closing.sheets[0].sheet.left.ns >= t->settle_ns) {
		give_out_first(t);
		any = true;
	}
	return any;
}

/* Whether the pyrometers and zones of this side are those of every side. */
static bool
shares_oven(const struct lane *lane)
{
	const struct oven_roles *oven = &lane->roles.ovens[0];

	for (int face = 0; face < 2; face++) {
		for (int i = 0; i < oven->surface_count[face]; i++)
			if (lane->settings->channels[oven->surface[face][i]].side >= 0)
				return false;
		for (int i = 0; i < oven->zone_count[face]; i++)
			if (lane->settings->channels[oven->zone[face][i]].side >= 0)
				return false;
	}
	return true;
}

/* A shared oven holds one sheet: if another side's was in there too, neither record can
 * be told from the other. */
static void
doubt_overlaps(struct tracker *t, const struct lane *lane, struct sheet *sheet)
{
	for (int other = 0; other < t->lane_count; other++)
		if (other != lane->side && shares_oven(lane))
			closing_doubt_overlaps(
			    &t->closing, other, &t->lanes[other].stations, sheet);
}

static void
take_left(void *arg, struct lane *lane, const struct sheet *left)
{
	struct tracker *t = arg;
	struct closed closed = {.side = lane->side, .sheet = *left};

	doubt_overlaps(t, lane, &closed.sheet);
	if (t->closing.count == CLOSING_MAX)
		give_out_first(t);
	closing_add(&t->closing, &closed);
}

void
tracker_finish(struct tracker *t)
{
	while (t->closing.count > 0)
		give_out_first(t);
	if (t->started && t->sink.moved != NULL)
		t->sink.moved(t->sink.arg);
}

/* --- life ------------------------------------------------------------------------- */

/* The slowest poll that a record waits for: what is read as a heat begins has come long
 * before its sheet leaves. */
static double
slowest_s(const struct tracker *t)
{
	double slowest_s = 0.5;

	for (size_t i = 0; i < t->settings->channel_count; i++) {
		const struct channel_settings *channel = &t->settings->channels[i];

		if (t->settings->devices[channel->device].line == t->line &&
		    !channel->at_heat)
			slowest_s = fmax(slowest_s, channel->period_s);
	}
	return slowest_s;
}

static void
set_up(struct tracker *t)
{
	t->settle_ns = (int64_t)((2.0 * slowest_s(t) + 1.0) * (double)CLOCK_SECOND_NS);
	t->pace.last_closed_at = t->start.last_closed_at;
	for (int side = 0; side < SETTINGS_SIDES; side++)
		t->tool_mean_c[side] = NAN;
}

/* Everything of it that outlives the logger. */
static void
tracker_freeze(struct tracker *t, struct freeze *freeze)
{
	int form = SAVED_FORM, machine = (int)line_of(t)->machine;
	int stations = line_of(t)->station_count, lanes = t->lane_count;

	freeze_int(freeze, &form);
	freeze_int(freeze, &machine);
	freeze_int(freeze, &stations);
	freeze_int(freeze, &lanes);
	if (form != SAVED_FORM || machine != (int)line_of(t)->machine ||
	    stations != line_of(t)->station_count || lanes != t->lane_count)
		freeze->failed = true;
	freeze_i64(freeze, &t->start.last_shot_no);
	freeze_time(freeze, &t->now.ns);
	freeze_i64(freeze, &t->wall_offset_ns);
	freeze_time(freeze, &t->pace.last_move.ns);
	freeze_int(freeze, &t->pace.startup_left);
	for (int side = 0; side < t->lane_count; side++) {
		lane_freeze(&t->lanes[side], freeze);
		freeze_double(freeze, &t->tool_mean_c[side]);
		freeze_time(freeze, &t->gave_out[side].ns);
	}
	closing_freeze(&t->closing, freeze, t->lane_count);
}

/* Takes up what was saved; what has been filed since is not filed again. */
static bool
thaw(struct tracker *t)
{
	struct freeze freeze = freeze_from(t->start.saved, t->start.saved_bytes);
	int64_t filed = t->start.last_shot_no;

	tracker_freeze(t, &freeze);
	t->start.saved = NULL;
	if (freeze.failed) {
		t->start.last_shot_no = filed;
		return false;
	}
	while (t->start.last_shot_no < filed && t->closing.count > 0) {
		closing_take(&t->closing);
		t->start.last_shot_no++;
	}
	t->start.last_shot_no = filed;
	return true;
}

static bool
make_lanes(struct tracker *t)
{
	t->pace.lanes = t->lanes;
	for (int side = 0; side < line_of(t)->side_count; side++) {
		struct lane *lane = &t->lanes[side];

		if (lane_init(lane, t->settings, t->line, side, &t->pace, &t->sink) !=
		    0)
			return false;
		lane->take = take_left;
		lane->take_arg = t;
		t->lane_count++;
		t->pace.lane_count = t->lane_count;
	}
	return true;
}

struct tracker *
tracker_new(const struct settings *settings, uint32_t line, struct tracker_start start,
    struct tracker_sink sink)
{
	struct tracker *t = calloc(1, sizeof(*t));

	if (t == NULL)
		return NULL;
	t->settings = settings;
	t->line = line;
	t->start = start;
	t->sink = sink;
	t->history = history_new(settings, line);
	if (t->history == NULL || !make_lanes(t)) {
		tracker_free(t);
		return NULL;
	}
	set_up(t);
	if (start.saved == NULL)
		return t;
	t->thawed = thaw(t);
	if (t->thawed)
		return t;
	start.saved = NULL;
	tracker_free(t);
	return tracker_new(settings, line, start, sink);
}

void
tracker_free(struct tracker *t)
{
	if (t == NULL)
		return;
	for (int side = 0; side < t->lane_count; side++)
		lane_release(&t->lanes[side]);
	history_free(t->history);
	free(t);
}

void
tracker_adopt(struct tracker *t, const struct settings *settings)
{
	t->settings = settings;
	for (int side = 0; side < t->lane_count; side++)
		lane_adopt(&t->lanes[side], settings);
}

void
tracker_number_on(struct tracker *t, int64_t last_shot_no)
{
	t->start.last_shot_no += last_shot_no;
}

/* --- taking up ---------------------------------------------------------------------- */

/* Half of a usual step: longer away, and nobody can tell how far the sheets have come. */
static double
away_limit_s(const struct tracker *t)
{
	double limit_s = line_of(t)->heat_min_s / 2.0;

	for (int side = 0; side < t->lane_count; side++)
		limit_s = fmax(limit_s, t->lanes[side].stations.step_s / 2.0);
	return limit_s;
}

static void
mark_left(struct tracker *t, uint32_t flags)
{
	for (size_t i = 0; i < t->closing.count; i++)
		t->closing.sheets[i].sheet.flags |= flags;
}

/* What the wall showed at the last scan. */
static struct wall
label_of(const struct tracker *t)
{
	return (struct wall){t->now.ns + t->wall_offset_ns};
}

/* The sheets stand as they were saved, or nobody knows any more. */
static void
take_up(struct tracker *t, const struct scan *scan)
{
	int64_t offset_ns = scan->wall.ns - scan->at.ns;
	double away_s = (double)(scan->at.ns - t->now.ns) / (double)CLOCK_SECOND_NS;
	double step_s =
	    (double)(offset_ns - t->wall_offset_ns) / (double)CLOCK_SECOND_NS;
	bool same_clocks = fabs(step_s) <= CLOCK_STEP_S && away_s >= 0.0;
	char text[128];

	mark_left(t, SHOT_FLAG_LOGGER_START | SHOT_FLAG_GAP);
	if (same_clocks && away_s < away_limit_s(t)) {
		for (int side = 0; side < t->lane_count; side++) {
			stations_flag_working(&t->lanes[side].stations,
			    SHOT_FLAG_LOGGER_START | SHOT_FLAG_GAP);
			counter_gap(&t->lanes[side].signals.counter);
		}
		t->wall_known = true;
		snprintf(text, sizeof(text),
		    "logging went on after %.0f s: the sheets are where they were",
		    away_s);
		tell(t, scan->wall, "resume", text);
		return;
	}
	while (t->closing.count > 0)
		give_out_first(t);
	for (int side = 0; side < t->lane_count; side++) {
		lane_forget(&t->lanes[side], t->now, label_of(t));
		t->tool_mean_c[side] = NAN;
	}
	mark_left(t, SHOT_FLAG_LOGGER_START | SHOT_FLAG_GAP);
	for (size_t i = 0; i < t->closing.count; i++)
		t->closing.sheets[i].sheet.unseen = true;
	while (t->closing.count > 0)
		give_out_first(t);
	t->pace.last_move.ns = 0;
	t->pace.startup_left = 0;
}

/* --- taking scans ----------------------------------------------------------------- */

/* The wall clock against the monotonic one. */
static void
check_clock(struct tracker *t, const struct scan *scan)
{
	int64_t offset_ns = scan->wall.ns - scan->at.ns;
	double step_s =
	    (double)(offset_ns - t->wall_offset_ns) / (double)CLOCK_SECOND_NS;
	char text[96];

	if (t->wall_known && fabs(step_s) > CLOCK_STEP_S) {
		for (int side = 0; side < t->lane_count; side++)
			stations_flag_all(
			    &t->lanes[side].stations, SHOT_FLAG_CLOCK_STEP);
		snprintf(text, sizeof(text), "the clock was set by %+.0f s", step_s);
		tell(t, scan->wall, "clock_step", text);
	}
	t->wall_offset_ns = offset_ns;
	t->wall_known = true;
}

/* Readings older than any sheet in hand needs go. */
static void
forget(struct tracker *t, struct mono now)
{
	struct mono need = closing_need(&t->closing, line_of(t)->startup_after_s, now);

	for (int side = 0; side < t->lane_count; side++) {
		struct mono one = stations_need(&t->lanes[side].stations, now);

		if (one.ns < need.ns)
			need = one;
	}
	need.ns -= KEEP_BEFORE_S * CLOCK_SECOND_NS;
	history_forget(t->history, need);
}

/* Tells that there is something new to save, or that time has passed. */
static void
tell_moved(struct tracker *t, bool moved)
{
	for (int side = 0; side < t->lane_count; side++) {
		moved |= t->lanes[side].moved;
		t->lanes[side].moved = false;
	}
	if (!moved && t->now.ns - t->saved.ns < SAVE_EVERY_S * CLOCK_SECOND_NS)
		return;
	t->saved = t->now;
	if (t->sink.moved != NULL)
		t->sink.moved(t->sink.arg);
}

void
tracker_scan(struct tracker *t, const struct scan *scan)
{
	if (scan->device >= t->settings->device_count ||
	    t->settings->devices[scan->device].line != t->line)
		return;
	if (!t->started && t->thawed)
		take_up(t, scan);
	t->started = true;
	t->now = scan->at;
	history_take(t->history, scan);
	check_clock(t, scan);
	for (int side = 0; side < t->lane_count; side++)
		lane_scan(&t->lanes[side], scan);
	bool given = close_due(t, scan->at);
	forget(t, scan->at);
	tell_moved(t, given);
}

size_t
tracker_save(const struct tracker *t, void *bytes, size_t room)
{
	struct freeze freeze = freeze_into(bytes, room);
	/* Freezing reads only; it is one walk for both ways. */
	union {
		const struct tracker *lent;
		struct tracker *tracker;
	} same = {.lent = t};

	if (!t->started)
		return 0;
	tracker_freeze(same.tracker, &freeze);
	return freeze.failed ? 0 : freeze.length;
}

/* --- looking at it -------------------------------------------------------------------- */

size_t
tracker_places(const struct tracker *t, struct mono now,
    struct tracker_place places[static TRACKER_PLACES_MAX])
{
	size_t count = 0;

	for (int side = 0; t->started && side < t->lane_count; side++)
		for (int s = 0; s < t->lanes[side].stations.count; s++)
			places[count++] = place_look(&t->lanes[side], s, now);
	return count;
}
