/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/tracker.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/features.h"
#include "daemon/shot/outcome.h"
#include "daemon/shot/signals.h"
#include "daemon/shot/stations.h"

#define CLOCK_STEP_S 1.0 /* the wall clock moved against the monotonic one */
#define KEEP_BEFORE_S 60 /* readings kept from before the oldest sheet's heat */

/* Sheets that left and whose last readings are awaited. */
enum { CLOSING_MAX = STATION_COUNT + 1 };

struct tracker {
	const struct settings *settings;
	uint32_t line;
	struct tracker_sink sink;
	struct tracker_start start;
	struct roles roles;
	struct history *history;

	struct signals signals;
	struct wall now; /* of the scan being taken */
	bool started;    /* a first scan has come */
	int64_t wall_offset_ns;
	bool wall_known;

	struct stations stations;
	struct edge fault; /* known while the machine reports one */
	int startup_left;
	int64_t settle_ns; /* awaited after a sheet left: readings of slower devices */
	struct sheet closing[CLOSING_MAX];
	size_t closing_count;
	double tool_mean_c;   /* of the shot given out last */
	struct mono gave_out; /* when its sheet had left */
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

static void
set_up(struct tracker *t)
{
	double slowest_s = 0.5;

	for (size_t i = 0; i < t->settings->device_count; i++)
		if (t->settings->devices[i].line == t->line)
			slowest_s = fmax(slowest_s, t->settings->devices[i].period_s);
	t->settle_ns = (int64_t)((2.0 * slowest_s + 1.0) * (double)CLOCK_SECOND_NS);
	signals_init(&t->signals, t->settings, &t->roles);
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
	t->tool_mean_c = NAN;
	t->history = history_new(settings, line);
	if (t->history == NULL || roles_init(&t->roles, settings, line) != 0) {
		history_free(t->history);
		free(t);
		return NULL;
	}
	set_up(t);
	return t;
}

void
tracker_free(struct tracker *t)
{
	if (t == NULL)
		return;
	history_free(t->history);
	roles_release(&t->roles);
	free(t);
}

void
tracker_adopt(struct tracker *t, const struct settings *settings)
{
	t->settings = settings;
	t->signals.settings = settings;
}

/* --- giving out ------------------------------------------------------------------- */

static double
heat_max_s(const struct tracker *t, int recipe)
{
	const struct recipe_settings *settings = settings_recipe(t->settings, recipe);

	if (settings != NULL && !isnan(settings->heat_max_s))
		return settings->heat_max_s;
	return line_of(t)->heat_max_s;
}

static struct wall
label(const struct edge *edge)
{
	return edge->known ? edge->wall : (struct wall){0};
}

/* Makes the record of a sheet that has left, and gives it out. */
static void
give_out(struct tracker *t, struct sheet *sheet)
{
	struct shot *shot = shot_new(t->roles.all_count);
	struct feature_source source = {.settings = t->settings,
	    .line = line_of(t),
	    .roles = &t->roles,
	    .history = t->history,
	    .sheet = sheet};

	if (shot == NULL) {
		tell(t, sheet->left_wall, "lost", "a shot was lost: out of memory");
		return;
	}
	sheet->last_tool_mean_c = t->tool_mean_c;
	if ((double)(sheet->left.ns - t->gave_out.ns) / 1e9 >
	    line_of(t)->startup_after_s)
		sheet->last_tool_mean_c = NAN; /* a stop lies between them */
	t->gave_out = sheet->left;
	shot->line = t->line;
	shot->shot_no = ++t->start.last_shot_no;
	shot->loaded_at = label(&sheet->loaded);
	shot->heat_start_at = label(&sheet->heat_start);
	shot->heat_end_at = label(&sheet->heat_end);
	shot->form_start_at = label(&sheet->form_start);
	shot->form_end_at = label(&sheet->form_end);
	shot->closed_at = sheet->left_wall;
	shot->recipe = sheet->recipe;
	shot->cycle_count = sheet->cycle_count;
	shot->uncertainty_s = sheet_uncertainty_s(sheet);
	shot->outcome = outcome_of(line_of(t), sheet, heat_max_s(t, sheet->recipe),
	    t->signals.edge_limit_s, t->roles.bit[ROLE_SAG_EYE] != ROLES_NONE,
	    shot->reason);
	features_compute(&source, shot);
	shot->flags = sheet->flags;
	t->tool_mean_c = shot->value[FEATURE_TOOL_MEAN_C];
	t->sink.shot(t->sink.arg, shot);
}

/* Gives out the sheets that left long enough ago; all of them when `all`. */
static void
close_due(struct tracker *t, struct mono now, bool all)
{
	size_t due = 0;

	while (due < t->closing_count &&
	       (all || now.ns - t->closing[due].left.ns >= t->settle_ns))
		give_out(t, &t->closing[due++]);
	for (size_t i = due; due > 0 && i < t->closing_count; i++)
		t->closing[i - due] = t->closing[i];
	t->closing_count -= due;
}

void
tracker_finish(struct tracker *t)
{
	close_due(t, (struct mono){0}, true);
}

/* --- moving on -------------------------------------------------------------------- */

/* A long time without an index is a stop: the next sheets into the oven are start-up. */
static void
notice_stop(struct tracker *t, const struct edge *edge)
{
	double limit_s = line_of(t)->startup_after_s, pause_s = INFINITY;
	char text[96];

	if (t->stations.last_index.ns != 0)
		pause_s =
		    (double)(edge_time(edge).ns - t->stations.last_index.ns) / 1e9;
	else if (t->start.last_closed_at.ns != 0)
		pause_s = (double)(edge->wall.ns - t->start.last_closed_at.ns) / 1e9;
	if (pause_s < limit_s)
		return;
	t->startup_left = line_of(t)->startup_shots;
	if (isinf(pause_s))
		return;
	snprintf(text, sizeof(text), "no index for %.0f min", pause_s / 60.0);
	tell(t, edge->wall, "stop", text);
}

/* Until `end` the machine has been in fault: the sheet in the oven stayed there too long,
 * from when it came in or from when the fault began. */
static void
count_fault(struct tracker *t, const struct edge *end)
{
	struct sheet *oven = &t->stations.at[STATION_OVEN];
	double in_oven_s = edge_span_s(&oven->heat_start, end);
	double fault_s = edge_span_s(&t->fault, end);

	if (!oven->heat_end.known && in_oven_s > 0.0 && fault_s > 0.0)
		oven->fault_s += fmin(in_oven_s, fault_s);
}

static void
index_starts(
    struct tracker *t, const struct edge *edge, bool load_empty, bool form_empty)
{
	struct sheet *load = &t->stations.at[STATION_LOAD];
	struct sheet *form = &t->stations.at[STATION_FORM];
	double since_s = (double)(edge_time(edge).ns - t->stations.last_index.ns) / 1e9;

	if (signals_off(&t->signals, ROLE_AUTOMATIC)) {
		stations_lose(&t->stations);
		return;
	}
	notice_stop(t, edge);
	if (t->fault.known)
		count_fault(t, edge);
	if (t->stations.last_index.ns != 0 && since_s < line_of(t)->heat_min_s)
		stations_flag_all(&t->stations, SHOT_FLAG_DOUBLE_INDEX);
	load->empty = load_empty;
	if (!form->form_start.known && form_empty)
		form->gone = true;
	stations_index_starts(&t->stations, edge);
}

static void
index_done(struct tracker *t, const struct edge *edge)
{
	uint32_t flags = 0;

	if (signals_off(&t->signals, ROLE_AUTOMATIC)) {
		stations_lose(&t->stations);
		return;
	}
	if (t->startup_left > 0) {
		t->startup_left--;
		flags |= SHOT_FLAG_STARTUP;
	}
	if (signals_on(&t->signals, ROLE_SAG_EYE))
		flags |= SHOT_FLAG_SAG_STUCK;
	if (t->closing_count == CLOSING_MAX) {
		give_out(t, &t->closing[0]);
		t->closing_count--;
		for (size_t i = 0; i < t->closing_count; i++)
			t->closing[i] = t->closing[i + 1];
	}
	t->closing[t->closing_count++] =
	    stations_index_done(&t->stations, edge, t->signals.recipe, flags);
	if (t->fault.known)
		stations_flag_working(&t->stations, SHOT_FLAG_FAULT);
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
		stations_flag_all(&t->stations, SHOT_FLAG_CLOCK_STEP);
		snprintf(text, sizeof(text), "the clock was set by %+.0f s", step_s);
		tell(t, scan->wall, "clock_step", text);
	}
	t->wall_offset_ns = offset_ns;
	t->wall_known = true;
}

/* The controller was silent: what stood in oven or form station was not watched. */
static void
silence(struct tracker *t)
{
	stations_flag_working(&t->stations, SHOT_FLAG_GAP);
	t->stations.at[STATION_OVEN].silent = true;
	t->stations.at[STATION_FORM].silent = true;
}

static void
missed_index(struct tracker *t, const struct edge *edge)
{
	index_starts(t, edge, false, false);
	index_done(t, edge);
	tell(t, edge->wall, "missed_index",
	    "an index went by while the controller was silent");
}

/* What the machine says of itself. */
static void
act_on_state(struct tracker *t, const struct news *news)
{
	if (news->silence)
		silence(t);
	if (news->change[ROLE_FAULT] == BIT_ROSE) {
		stations_flag_all(&t->stations, SHOT_FLAG_FAULT);
		t->fault = news->edge[ROLE_FAULT];
		tell(t, news->edge[ROLE_FAULT].wall, "fault",
		    "the machine reports a fault");
	}
	if (news->change[ROLE_FAULT] == BIT_FELL && t->fault.known) {
		count_fault(t, &news->edge[ROLE_FAULT]);
		t->fault.known = false;
	}
	if (news->change[ROLE_AUTOMATIC] == BIT_FELL) {
		stations_flag_all(&t->stations, SHOT_FLAG_MANUAL);
		tell(t, news->edge[ROLE_AUTOMATIC].wall, "manual",
		    "the line was put in manual");
	}
}

/* The changes of one scan, in the order in which they can have happened on a machine:
 * open, sag, move, arrive, close. */
static void
act_on_moves(struct tracker *t, const struct news *news)
{
	const enum bit_change *change = news->change;
	const struct edge *edge = news->edge;

	if (change[ROLE_FORM_CLOSED] == BIT_FELL)
		stations_form_opens(&t->stations, &edge[ROLE_FORM_CLOSED]);
	if (change[ROLE_SAG_EYE] == BIT_ROSE)
		stations_sag(&t->stations, &edge[ROLE_SAG_EYE]);
	if (news->sagged)
		stations_sag(&t->stations, &news->sag);
	if (change[ROLE_SHEET_AT_LOAD] == BIT_ROSE)
		t->stations.at[STATION_LOAD].loaded = edge[ROLE_SHEET_AT_LOAD];
	if (change[ROLE_ROTATING] == BIT_ROSE)
		index_starts(
		    t, &edge[ROLE_ROTATING], news->load_empty, news->form_empty);
	if (change[ROLE_ROTATING] == BIT_FELL)
		index_done(t, &edge[ROLE_ROTATING]);
	if (change[ROLE_FORM_CLOSED] == BIT_ROSE)
		stations_form_closes(&t->stations, &edge[ROLE_FORM_CLOSED],
		    t->signals.cycle_count, line_of(t)->form_limit_s);
	for (int64_t i = 0; i < news->missed; i++)
		missed_index(t, &news->when);
	if (news->astray) {
		stations_flag_all(&t->stations, SHOT_FLAG_COUNT_JUMP);
		stations_lose(&t->stations);
		tell(t, t->now, "count_astray",
		    "the cycle counter went up without an index that was seen");
	}
	if (news->jumped) {
		stations_flag_all(&t->stations, SHOT_FLAG_COUNT_JUMP);
		tell(t, t->now, "count_jump", "the cycle counter was set or jumped");
	}
}

/* Readings older than any sheet in hand needs go. */
static void
forget(struct tracker *t, struct mono now)
{
	struct mono need = stations_need(&t->stations, now);

	if (t->closing_count > 0 && t->closing[0].placed.ns < need.ns)
		need = t->closing[0].placed;
	need.ns -= KEEP_BEFORE_S * CLOCK_SECOND_NS;
	history_forget(t->history, need);
}

void
tracker_scan(struct tracker *t, const struct scan *scan)
{
	struct news news;

	if (scan->device >= t->settings->device_count ||
	    t->settings->devices[scan->device].line != t->line)
		return;
	if (!t->started)
		stations_init(&t->stations, scan->at, SHOT_FLAG_LOGGER_START);
	t->started = true;
	t->now = scan->wall;
	history_take(t->history, scan);
	check_clock(t, scan);
	signals_take(&t->signals, scan, &news);
	act_on_state(t, &news);
	act_on_moves(t, &news);
	close_due(t, scan->at, false);
	forget(t, scan->at);
}
