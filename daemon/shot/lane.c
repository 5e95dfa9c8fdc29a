/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/lane.h"

#include <math.h>
#include <stdio.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/scan.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"

static const struct line_settings *
line_of(const struct lane *lane)
{
	return &lane->settings->lines[lane->line];
}

int
lane_init(struct lane *lane, const struct settings *settings, uint32_t line, int side,
    struct pace *pace, const struct tracker_sink *sink)
{
	*lane = (struct lane){.settings = settings,
	    .line = line,
	    .side = side,
	    .sink = sink,
	    .pace = pace};
	if (roles_init(&lane->roles, settings, line, side) != 0)
		return ERROR_MEMORY;
	lane->set_points = set_points_new(settings, &lane->roles);
	if (lane->set_points == NULL) {
		roles_release(&lane->roles);
		return ERROR_MEMORY;
	}
	signals_init(&lane->signals, settings, &lane->roles, line_of(lane)->machine);
	stations_init(&lane->stations, line_of(lane));
	return 0;
}

void
lane_forget(struct lane *lane)
{
	signals_init(
	    &lane->signals, lane->settings, &lane->roles, line_of(lane)->machine);
	stations_init(&lane->stations, line_of(lane));
	lane->fault.known = false;
	lane->begun = lane->load_unsure = false;
	lane->unsure_next = 0;
	lane->held_count = 0;
}

void
lane_release(struct lane *lane)
{
	set_points_free(lane->set_points);
	roles_release(&lane->roles);
}

void
lane_adopt(struct lane *lane, const struct settings *settings)
{
	lane->settings = settings;
	lane->signals.settings = settings;
	lane->stations.line = line_of(lane);
	set_points_adopt(lane->set_points, settings);
}

static void
tell(struct lane *lane, struct wall at, const char *kind, const char *text)
{
	if (lane->sink->event != NULL)
		lane->sink->event(lane->sink->arg, at, kind, text);
}

/* Whether an event of this bit is this side's to tell: a common one is the first's. */
static bool
tells(const struct lane *lane, enum role bit)
{
	return lane->side == 0 ||
	       lane->settings->channels[lane->roles.bit[bit]].side == lane->side;
}

/* --- the first look ------------------------------------------------------------------ */

/* What stood in the machine as the logger started; false: not known yet. */
static bool
find_sheets(struct lane *lane, struct mono now, uint32_t flags)
{
	struct stations *stations = &lane->stations;
	const struct signals *signals = &lane->signals;

	if (line_of(lane)->machine == MACHINE_ROTARY) {
		if (signals->mover == ROLE_ROTATING &&
		    !signals->bits[ROLE_ROTATING].known)
			return false;
		stations_await(stations, now);
		if (signals_on(signals, ROLE_ROTATING)) /* on its way into the oven */
			stations_find(stations, 0, now, flags);
		for (int s = stations->first_oven; s <= stations->form; s++)
			stations_find(stations, s, now, flags);
		return true;
	}
	if (!signals->bits[ROLE_OVEN_IN].known)
		return false;
	if (signals_on(signals, ROLE_OVEN_IN))
		stations_find(stations, stations->first_oven, now, flags);
	else if (signals_on(signals, ROLE_FORM_CLOSED) ||
		 signals_on(signals, ROLE_CLAMP_CLOSED) ||
		 signals_on(signals, ROLE_SHEET_IN_FRAME))
		stations_find(stations, stations->form, now, flags);
	return true;
}

/* --- moves ------------------------------------------------------------------------- */

/* A long time without a move is a stop: the next sheets into the oven are start-up. */
static void
notice_stop(struct lane *lane, const struct edge *edge)
{
	double pause_s = INFINITY;
	char text[96];

	if (lane->pace->last_move.ns != 0)
		pause_s = (double)(edge_time(edge).ns - lane->pace->last_move.ns) / 1e9;
	else if (lane->pace->last_closed_at.ns != 0)
		pause_s = (double)(edge->wall.ns - lane->pace->last_closed_at.ns) / 1e9;
	if (pause_s < line_of(lane)->startup_after_s)
		return;
	lane->pace->startup_left = line_of(lane)->startup_shots;
	if (isinf(pause_s))
		return;
	snprintf(text, sizeof(text), "no sheet moved for %.0f min", pause_s / 60.0);
	tell(lane, edge->wall, "stop", text);
}

/* The next sheet goes into the first oven. */
static struct intake
take_in(struct lane *lane, const struct edge *edge)
{
	struct intake intake = {.recipe = lane->signals.recipe,
	    .sag_stuck = signals_on(&lane->signals, ROLE_SAG_EYE) &&
	                 !lane->signals.bits[ROLE_SAG_EYE].pending};
	char text[SET_POINTS_TEXT];

	if (lane->pace->startup_left > 0) {
		lane->pace->startup_left--;
		intake.flags |= SHOT_FLAG_STARTUP;
	}
	if (lane->fault.known)
		intake.flags |= SHOT_FLAG_FAULT;
	intake.set_points =
	    set_points_begin(lane->set_points, edge->at, intake.recipe, text);
	if (text[0] != '\0')
		tell(lane, edge->wall, "set_points", text);
	lane->pace->last_move = edge_time(edge);
	return intake;
}

/* Moved by hand, nobody knows how far. */
static bool
by_hand(struct lane *lane)
{
	if (!signals_off(&lane->signals, ROLE_AUTOMATIC))
		return false;
	stations_lose(&lane->stations);
	return true;
}

static void
end_heat(struct lane *lane, const struct edge *edge)
{
	if (lane->fault.known)
		stations_fault(&lane->stations, &lane->fault, edge);
}

/* The eye was on as the sheet went and fell before its debounce was over: the machine went
 * on it. */
static void
note_sagging(struct lane *lane)
{
	struct edge *sagging = &lane->signals.sagging;

	if (sagging->known)
		stations_sagging(&lane->stations, sagging);
	sagging->known = false;
}

/* Nobody saw what was done at the load station before the ring turned. */
static bool
load_unwatched(const struct lane *lane, const struct edge *edge)
{
	return edge_uncertainty_s(edge) > lane->signals.edge_limit_s;
}

static void
index_starts(
    struct lane *lane, const struct edge *edge, bool load_empty, bool form_empty)
{
	struct stations *stations = &lane->stations;
	double since_s = (double)(edge_time(edge).ns - stations->last_move.ns) / 1e9;

	if (!by_hand(lane))
		notice_stop(lane, edge);
	end_heat(lane, edge);
	if (stations->last_move.ns != 0 && since_s < line_of(lane)->heat_min_s)
		stations_flag_all(stations, SHOT_FLAG_DOUBLE_INDEX);
	if (lane->load_unsure && !load_empty && !stations_came_round(stations)) {
		stations->at[0].unseen = true;
		stations->at[0].flags |= SHOT_FLAG_GAP;
	}
	if (load_unwatched(lane, edge) && !stations_came_round(stations)) {
		stations->at[0].silent = true;
		load_empty = false;
	}
	stations_index_starts(stations, edge, load_empty, form_empty);
	note_sagging(lane);
}

/* Frames between the form station and the load station. */
static int
behind_form(const struct lane *lane)
{
	return lane->stations.count - 1 - lane->stations.form;
}

static void
index_done(struct lane *lane, const struct edge *edge, bool watched)
{
	struct intake intake = take_in(lane, edge);

	by_hand(lane);
	stations_index_done(&lane->stations, edge, &intake,
	    watched && signals_have(&lane->signals, ROLE_SHEET_AT_LOAD));
	if (!watched)
		lane->unsure_next = behind_form(lane);
	lane->load_unsure = !watched || lane->unsure_next > 0;
	if (watched && lane->unsure_next > 0)
		lane->unsure_next--;
	by_hand(lane); /* what came in meanwhile, too */
	if (lane->fault.known)
		stations_flag_working(&lane->stations, SHOT_FLAG_FAULT);
}

/* An index that the counter alone tells. */
static void
counted_index(struct lane *lane, const struct edge *edge)
{
	bool alone = lane->signals.mover == ROLE_CYCLE_COUNT;

	index_starts(lane, edge, alone && lane->signals.load_empty,
	    alone && lane->signals.form_empty);
	lane->signals.load_empty = lane->signals.form_empty = false;
	index_done(lane, edge, alone);
	if (lane->load_unsure && stations_came_round(&lane->stations)) {
		lane->stations.at[0].unseen = true;
		lane->stations.at[0].flags |= SHOT_FLAG_GAP;
		stations_load_clear(&lane->stations, edge_time(edge), edge->wall);
	}
	if (lane->signals.mover == ROLE_ROTATING)
		tell(lane, edge->wall, "missed_index",
		    "an index went by while the controller was silent");
}

static void
oven_takes(struct lane *lane, const struct edge *edge)
{
	const struct signals *signals = &lane->signals;
	bool clamp = signals_have(signals, ROLE_CLAMP_CLOSED);
	struct intake intake;

	if (!by_hand(lane))
		notice_stop(lane, edge);
	intake = take_in(lane, edge);
	stations_oven_takes(&lane->stations, edge, &intake,
	    signals_off(signals, ROLE_SHEET_IN_FRAME),
	    clamp || signals_on(signals, ROLE_SHEET_IN_FRAME));
	by_hand(lane);
}

static void
oven_gives(struct lane *lane, const struct edge *edge)
{
	end_heat(lane, edge);
	stations_oven_gives(&lane->stations, edge);
	note_sagging(lane);
	by_hand(lane);
}

/* --- what an edge does --------------------------------------------------------------- */

static void
fault_changes(struct lane *lane, const struct change *change)
{
	if (!change->rose) {
		end_heat(lane, &change->edge);
		lane->fault.known = false;
		return;
	}
	stations_flag_all(&lane->stations, SHOT_FLAG_FAULT);
	lane->fault = change->edge;
	if (tells(lane, ROLE_FAULT))
		tell(lane, change->edge.wall, "fault", "the machine reports a fault");
}

static void
automatic_changes(struct lane *lane, const struct change *change)
{
	if (change->rose)
		return;
	stations_flag_all(&lane->stations, SHOT_FLAG_MANUAL);
	if (tells(lane, ROLE_AUTOMATIC))
		tell(lane, change->edge.wall, "manual", "the line was put in manual");
}

/* Platens that both sides share work on the side whose sheet is there. */
static bool
is_my_form(const struct lane *lane)
{
	const struct sheet *form = &lane->stations.at[lane->stations.form];

	if (line_of(lane)->side_count == 1 ||
	    lane->settings->channels[lane->roles.bit[ROLE_FORM_CLOSED]].side >= 0)
		return true;
	return !form->filed && !form->form_end.known;
}

static void
form_changes(struct lane *lane, const struct change *change)
{
	if (!is_my_form(lane))
		return;
	if (change->rose)
		stations_form_closes(
		    &lane->stations, &change->edge, lane->signals.cycle_count);
	else
		stations_form_opens(&lane->stations, &change->edge);
}

/* A line without a clamp's bit has the eye on the frame in its place. */
static void
frame_changes(struct lane *lane, const struct change *change)
{
	bool clamp = signals_have(&lane->signals, ROLE_CLAMP_CLOSED);

	if (change->rose && !clamp)
		stations_clamp_closes(&lane->stations, &change->edge);
	else if (!change->rose && clamp)
		stations_frame_empties(&lane->stations, &change->edge);
	else if (!change->rose)
		stations_clamp_opens(&lane->stations, &change->edge);
}

static void
act(struct lane *lane, const struct change *change)
{
	struct stations *stations = &lane->stations;
	const struct edge *edge = &change->edge;

	lane->moved = true;
	switch ((int)change->bit) {
	case ROLE_FAULT:
		fault_changes(lane, change);
		break;
	case ROLE_AUTOMATIC:
		automatic_changes(lane, change);
		break;
	case ROLE_FORM_CLOSED:
		form_changes(lane, change);
		break;
	case ROLE_SAG_EYE:
		if (change->rose)
			stations_sag(stations, edge);
		break;
	case ROLE_SHEET_AT_LOAD:
		if (change->rose && !stations_came_round(stations))
			stations_loaded(stations, edge);
		break;
	case ROLE_ROTATING:
		if (change->rose)
			index_starts(lane, edge, lane->signals.load_empty,
			    lane->signals.form_empty);
		else
			index_done(lane, edge, true);
		break;
	case ROLE_CLAMP_CLOSED:
		if (change->rose)
			stations_clamp_closes(stations, edge);
		else
			stations_clamp_opens(stations, edge);
		break;
	case ROLE_SHEET_IN_FRAME:
		frame_changes(lane, change);
		break;
	case ROLE_OVEN_IN:
		if (change->rose)
			oven_takes(lane, edge);
		else
			oven_gives(lane, edge);
		break;
	}
}

/* Hands on what has left. */
static void
hand_on(struct lane *lane)
{
	struct stations *stations = &lane->stations;

	for (int i = 0; i < stations->leaving_count; i++) {
		lane->take(lane->take_arg, lane, &stations->leaving[i]);
		lane->moved = true;
	}
	stations->leaving_count = 0;
}

/* --- the counter --------------------------------------------------------------------- */

/* After a silence the counter has yet to tell of indexes in it: until then nobody knows on
 * whom the platens closed. */
static bool
holds_form(const struct lane *lane)
{
	return lane->signals.mover == ROLE_ROTATING &&
	       signals_have(&lane->signals, ROLE_CYCLE_COUNT) &&
	       lane->signals.counter.known && lane->signals.counter.gap;
}

/* No ring turns with its platens closed.  With `silence`: only the openings that lie in it
 * came before an index in it; what was seen afterwards came after it. */
static void
let_form_go(struct lane *lane, const struct edge *silence)
{
	size_t gone = 0;

	while (gone < lane->held_count &&
	       (silence == NULL ||
		   (!lane->held[gone].rose &&
		       lane->held[gone].edge.before.ns <= silence->before.ns)))
		act(lane, &lane->held[gone++]);
	lane->held_count -= gone;
	for (size_t i = 0; i < lane->held_count; i++)
		lane->held[i] = lane->held[i + gone];
}

/* The ring turns again before the counter has told: whose they were stays unknown. */
static void
drop_held(struct lane *lane)
{
	struct sheet *form = &lane->stations.at[lane->stations.form];

	lane->held_count = 0;
	form->unseen = true;
	form->flags |= SHOT_FLAG_GAP;
}

static void
act_in_turn(struct lane *lane, const struct news *news, const struct change *change)
{
	bool hold = holds_form(lane) || news->missed > 0;

	if (change->bit == ROLE_FORM_CLOSED && hold && lane->held_count < LANE_HELD) {
		lane->held[lane->held_count++] = *change;
		return;
	}
	if (change->bit == ROLE_ROTATING && hold && lane->held_count > 0)
		drop_held(lane);
	if (change->bit == ROLE_ROTATING || change->bit == ROLE_FORM_CLOSED)
		let_form_go(lane, NULL);
	act(lane, change);
}

static void
act_on_counter(struct lane *lane, const struct news *news)
{
	if (news->missed > 0)
		let_form_go(lane, &news->when);
	for (int64_t i = 0; i < news->missed; i++) {
		counted_index(lane, &news->when);
		hand_on(lane);
	}
	if (news->jumped) {
		stations_flag_all(&lane->stations, SHOT_FLAG_COUNT_JUMP);
		if (lane->signals.mover == ROLE_CYCLE_COUNT)
			stations_lose(&lane->stations);
		tell(lane, lane->now, "count_jump",
		    "the cycle counter was set or jumped");
	}
}

/* Nobody knows how the sheets moved: the counter tells of an index that no poll saw, or
 * was set in a silence; or polls were missing, without a counter of the moves, for as long
 * as it takes to put another sheet in the place of the one that was there. */
static bool
is_lost(const struct lane *lane, const struct news *news, struct mono now)
{
	const struct signals *signals = &lane->signals;
	double silence_s =
	    (double)(now.ns - signals->gap_from.ns) / (double)CLOCK_SECOND_NS;
	bool counted =
	    signals->mover != ROLE_OVEN_IN && signals_have(signals, ROLE_CYCLE_COUNT);

	double limit_s =
	    signals->mover == ROLE_OVEN_IN ? line_of(lane)->heat_min_s : 0.0;

	return news->unsure || news->astray ||
	       (news->silence && !counted && silence_s > limit_s);
}

/* Whether the frame at the load station is seen to hold nothing. */
static bool
load_is_clear(const struct lane *lane)
{
	return signals_off(&lane->signals, ROLE_SHEET_AT_LOAD) &&
	       !signals_on(&lane->signals, ROLE_ROTATING) &&
	       !lane->signals.bits[ROLE_ROTATING].pending;
}

void
lane_scan(struct lane *lane, const struct scan *scan)
{
	struct news news;
	uint32_t flags = SHOT_FLAG_LOGGER_START;

	lane->now = scan->wall;
	set_points_scan(lane->set_points, scan);
	signals_take(&lane->signals, scan, &news);
	if (is_lost(lane, &news, scan->at)) {
		if (news.astray)
			tell(lane, lane->now, "count_astray",
			    "the cycle counter went up without an index that was seen: "
			    "the sheets in the machine are partial");
		else
			tell(lane, lane->now, "lost",
			    "nobody saw how the sheets moved: those that stand there "
			    "now are partial");
		flags = news.astray ? SHOT_FLAG_COUNT_JUMP : SHOT_FLAG_GAP;
		lane_forget(lane);
		lane->load_unsure = signals_have(&lane->signals, ROLE_SHEET_AT_LOAD);
		lane->unsure_next = lane->load_unsure ? behind_form(lane) : 0;
		signals_take(&lane->signals, scan, &news);
	}
	if (!lane->begun) {
		lane->begun = find_sheets(lane, scan->at, flags);
		lane->moved |= lane->begun;
	}
	if (news.silence)
		stations_silence(&lane->stations);
	for (size_t i = 0; i < news.count; i++) {
		act_in_turn(lane, &news, &news.changes[i]);
		hand_on(lane);
	}
	act_on_counter(lane, &news);
	if (!holds_form(lane))
		let_form_go(lane, NULL);
	if (load_is_clear(lane)) {
		stations_load_clear(&lane->stations, scan->at, scan->wall);
		lane->load_unsure = false;
	}
	hand_on(lane);
	lane->moved |= news.silence || news.missed > 0 || news.astray || news.jumped;
}

void
lane_freeze(struct lane *lane, struct freeze *freeze)
{
	uint64_t held = lane->held_count;

	signals_freeze(&lane->signals, freeze);
	stations_freeze(&lane->stations, freeze);
	set_points_freeze(lane->set_points, freeze);
	freeze_edge(freeze, &lane->fault);
	freeze_bool(freeze, &lane->begun);
	freeze_bool(freeze, &lane->load_unsure);
	freeze_int(freeze, &lane->unsure_next);
	freeze_u64(freeze, &held);
	lane->held_count = held <= LANE_HELD ? (size_t)held : 0;
	for (size_t i = 0; i < lane->held_count; i++) {
		lane->held[i].bit = ROLE_FORM_CLOSED;
		freeze_bool(freeze, &lane->held[i].rose);
		freeze_edge(freeze, &lane->held[i].edge);
	}
}
