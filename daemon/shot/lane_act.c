/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What each edge does to the sheets. */
#include "daemon/shot/lane_inside.h"

#include <math.h>
#include <stdio.h>

#include "conf/settings.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"

static const struct line_settings *
line_of(const struct lane *lane)
{
	return &lane->settings->lines[lane->line];
}

void
lane_tell(struct lane *lane, struct wall at, const char *kind, const char *text)
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
	lane_tell(lane, edge->wall, "stop", text);
}

/* The next sheet goes into the first oven. */
static struct intake
take_in(struct lane *lane, const struct edge *edge)
{
	struct intake intake = {.recipe = lane->signals.recipe,
	    .sag_stuck = signals_on(&lane->signals, ROLE_SAG_EYE) &&
	                 !lane->signals.bits[ROLE_SAG_EYE].pending};

	if (lane->pace->startup_left > 0) {
		lane->pace->startup_left--;
		intake.flags |= SHOT_FLAG_STARTUP;
	}
	if (lane->fault.known)
		intake.flags |= SHOT_FLAG_FAULT;
	intake.set_points = lane_set_points(lane, edge, intake.recipe);
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
	stations_flag_all(&lane->stations, SHOT_FLAG_MANUAL);
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
	return edge_uncertainty_s(edge) > lane->signals.edge_limit_s ||
	       signals_deaf(&lane->signals, ROLE_SHEET_AT_LOAD, edge->at);
}

/* A sheet moves, and bits that would tell what happened to it are still not heard of. */
static void
heed_deaf_bits(struct lane *lane, const struct edge *edge)
{
	const struct signals *signals = &lane->signals;

	if (signals_deaf(signals, ROLE_FORM_CLOSED, edge->at))
		stations_platens_unwatched(&lane->stations);
	if (signals_deaf(signals, ROLE_CLAMP_CLOSED, edge->at) ||
	    signals_deaf(signals, ROLE_SHEET_IN_FRAME, edge->at) ||
	    signals_deaf(signals, ROLE_SHEET_AT_LOAD, edge->at))
		stations_taking_off_unwatched(&lane->stations);
}

/* An oven holds more than empty frames: those a line may pass on at once. */
static bool
heats_a_sheet(const struct stations *stations)
{
	for (int s = stations->first_oven; s <= stations->last_oven; s++)
		if (!stations->at[s].filed && !stations->at[s].empty)
			return true;
	return false;
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
	heed_deaf_bits(lane, edge);
	form_empty =
	    form_empty && !signals_deaf(&lane->signals, ROLE_SHEET_AT_FORM, edge->at);
	if (stations->last_move.ns != 0 && since_s < line_of(lane)->heat_min_s &&
	    heats_a_sheet(stations))
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
int
lane_behind_form(const struct lane *lane)
{
	return lane->stations.count - 1 - lane->stations.form;
}

static void
index_done(struct lane *lane, const struct edge *edge, bool watched)
{
	struct intake intake = take_in(lane, edge);
	struct stations *stations = &lane->stations;

	/* Arrived in a silence: what has been done at the load station since? */
	watched = watched && edge_uncertainty_s(edge) <= lane->signals.edge_limit_s;
	by_hand(lane);
	stations_index_done(&lane->stations, edge, &intake,
	    watched && signals_have(&lane->signals, ROLE_SHEET_AT_LOAD));
	if (!watched)
		lane->unsure_next = lane_behind_form(lane);
	lane->load_unsure = !watched || lane->unsure_next > 0;
	if (watched && lane->unsure_next > 0)
		lane->unsure_next--;
	if (!watched && stations_came_round(stations)) {
		stations->at[0].unseen = true;
		stations->at[0].flags |= SHOT_FLAG_GAP;
		stations_load_clear(stations, edge_time(edge), edge->wall);
	}
	by_hand(lane); /* what came in meanwhile, too */
	if (lane->fault.known)
		stations_flag_working(&lane->stations, SHOT_FLAG_FAULT);
}

/* An index that the counter alone tells. */
void
lane_counted_index(struct lane *lane, const struct edge *edge)
{
	bool alone = lane->signals.mover == ROLE_CYCLE_COUNT;

	index_starts(lane, edge, alone && lane->signals.load_empty,
	    alone && lane->signals.form_empty);
	lane->signals.load_empty = lane->signals.form_empty = false;
	index_done(lane, edge, alone);
	if (lane->signals.mover == ROLE_ROTATING)
		lane_tell(lane, edge->wall, "missed_index",
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
	heed_deaf_bits(lane, edge);
	intake = take_in(lane, edge);
	stations_oven_takes(&lane->stations, edge, &intake,
	    signals_off(signals, ROLE_SHEET_IN_FRAME) &&
		!signals_deaf(signals, ROLE_SHEET_IN_FRAME, edge->at),
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
		lane_tell(
		    lane, change->edge.wall, "fault", "the machine reports a fault");
}

static void
automatic_changes(struct lane *lane, const struct change *change)
{
	if (change->rose)
		return;
	stations_flag_all(&lane->stations, SHOT_FLAG_MANUAL);
	if (tells(lane, ROLE_AUTOMATIC))
		lane_tell(
		    lane, change->edge.wall, "manual", "the line was put in manual");
}

/* Platens that both sides share. */
static bool
shares_form(const struct lane *lane)
{
	return line_of(lane)->side_count > 1 &&
	       lane->settings->channels[lane->roles.bit[ROLE_FORM_CLOSED]].side < 0;
}

/* A sheet is at the form station and has not been formed yet, or is being formed. */
static bool
awaits_form(const struct lane *lane)
{
	const struct sheet *form = &lane->stations.at[lane->stations.form];

	return !form->filed && !form->form_end.known;
}

/* Shared platens closed, and this is not the only side with a sheet that they may have
 * closed on. */
static void
doubt_form(struct lane *lane)
{
	struct sheet *form = &lane->stations.at[lane->stations.form];

	for (int side = 0; side < lane->pace->lane_count; side++)
		if (side != lane->side && awaits_form(&lane->pace->lanes[side])) {
			form->unseen = true;
			form->flags |= SHOT_FLAG_SEQUENCE;
		}
}

static void
form_changes(struct lane *lane, const struct change *change)
{
	if (shares_form(lane) && !awaits_form(lane))
		return;
	if (change->rose && shares_form(lane))
		doubt_form(lane);
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

void
lane_act(struct lane *lane, const struct change *change)
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
		heed_deaf_bits(lane, edge);
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
void
lane_hand_on(struct lane *lane)
{
	struct stations *stations = &lane->stations;

	for (int i = 0; i < stations->leaving_count; i++) {
		lane->take(lane->take_arg, lane, &stations->leaving[i]);
		lane->moved = true;
	}
	stations->leaving_count = 0;
}
