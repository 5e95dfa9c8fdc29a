/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/lane.h"

#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/scan.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/lane_inside.h"
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

/* Nothing to look for at the form station: what was there has left, or it had before and
 * nothing came since. */
static bool
left_form(const struct lane *lane)
{
	const struct stations *stations = &lane->stations;

	if (stations_formed(stations))
		return true;
	if (!lane->begun)
		return lane->form_gone;
	if (line_of(lane)->machine == MACHINE_ROTARY)
		return stations->at[stations->form].filed;
	for (int s = 0; s < stations->count; s++)
		if (!stations->at[s].filed)
			return false;
	return lane->form_gone;
}

void
lane_forget(struct lane *lane, struct mono at, struct wall wall)
{
	lane->form_gone = left_form(lane);
	stations_give_up(&lane->stations, at, wall);
	if (lane->begun)
		lane->count_then = lane->signals.cycle_count;
	lane_hand_on(lane);
	signals_init(
	    &lane->signals, lane->settings, &lane->roles, line_of(lane)->machine);
	stations_init(&lane->stations, line_of(lane));
	lane->stations.stranger = SHOT_FLAG_GAP;
	lane->fault.known = false;
	lane->begun = false;
	/* What comes to the load station next may be unformed and go round again. */
	lane->load_unsure = signals_have(&lane->signals, ROLE_SHEET_AT_LOAD);
	lane->unsure_next = lane->load_unsure ? lane_behind_form(lane) : 0;
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
		for (int s = stations->first_oven; s < stations->form; s++)
			stations_find(stations, s, now, flags);
		if (!lane->form_gone || signals_on(signals, ROLE_FORM_CLOSED) ||
		    signals->cycle_count != lane->count_then)
			stations_find(stations, stations->form, now, flags);
		return true;
	}
	if (!signals->bits[ROLE_OVEN_IN].known)
		return false;
	if (signals_on(signals, ROLE_OVEN_IN))
		stations_find(stations, stations->first_oven, now, flags);
	else if (signals_on(signals, ROLE_FORM_CLOSED) ||
		 (!lane->form_gone && (signals_on(signals, ROLE_CLAMP_CLOSED) ||
					  signals_on(signals, ROLE_SHEET_IN_FRAME))))
		stations_find(stations, stations->form, now, flags);
	return true;
}

/* --- silences and scans ------------------------------------------------------------ */

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

/* A bit by itself was not heard of for a while, whatever the others said. */
static void
heed_deafness(struct lane *lane, const struct news *news)
{
	if (news->deaf[ROLE_FORM_CLOSED])
		stations_platens_unwatched(&lane->stations);
	if (news->deaf[ROLE_CLAMP_CLOSED] || news->deaf[ROLE_SHEET_IN_FRAME] ||
	    news->deaf[ROLE_SHEET_AT_LOAD])
		stations_taking_off_unwatched(&lane->stations);
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
	lane_look_at_set_points(lane, scan->at);
	signals_take(&lane->signals, scan, &news);
	if (is_lost(lane, &news, scan->at)) {
		if (news.astray)
			lane_tell(lane, lane->now, "count_astray",
			    "the cycle counter went up without an index that was seen: "
			    "the sheets in the machine are partial");
		else
			lane_tell(lane, lane->now, "lost",
			    "nobody saw how the sheets moved: those that stand there "
			    "now are partial");
		flags = news.astray ? SHOT_FLAG_COUNT_JUMP : SHOT_FLAG_GAP;
		lane_forget(lane, scan->at, scan->wall);
		signals_take(&lane->signals, scan, &news);
	}
	if (!lane->begun) {
		lane->begun = find_sheets(lane, scan->at, flags);
		lane->moved |= lane->begun;
	}
	if (news.silence)
		stations_silence(&lane->stations);
	heed_deafness(lane, &news);
	for (size_t i = 0; i < news.count; i++) {
		lane_act_in_turn(lane, &news, &news.changes[i]);
		lane_hand_on(lane);
	}
	lane_act_on_counter(lane, &news);
	if (!lane_holds_form(lane))
		lane_let_form_go(lane, NULL);
	if (load_is_clear(lane)) {
		stations_load_clear(&lane->stations, scan->at, scan->wall);
		lane->load_unsure = false;
	}
	lane_hand_on(lane);
	lane->moved |= news.silence || news.missed > 0 || news.astray || news.jumped;
}

static uint64_t
mix(uint64_t hash, uint64_t value)
{
	for (int i = 0; i < 8; i++)
		hash = (hash ^ (value >> 8 * i & 0xff)) * UINT64_C(0x100000001b3);
	return hash;
}

/* What the channel of a bit or word is, as far as its levels mean something (FNV-1a). */
static uint64_t
meaning_of(const struct lane *lane, int role)
{
	const struct channel_settings *channel;
	const struct device_settings *device;
	uint64_t hash = UINT64_C(0xcbf29ce484222325), bits;

	if (lane->roles.bit[role] == ROLES_NONE)
		return 0;
	channel = &lane->settings->channels[lane->roles.bit[role]];
	device = &lane->settings->devices[channel->device];
	for (const char *c = lane->settings->buses[device->bus].name; *c != '\0'; c++)
		hash = mix(hash, (unsigned char)*c);
	hash = mix(hash, (uint64_t)device->unit_id);
	hash = mix(mix(hash, channel->table), channel->address);
	hash = mix(mix(hash, channel->encoding), (uint64_t)channel->bit);
	hash = mix(mix(hash, channel->inverted), channel->order);
	memcpy(&bits, &channel->on_si, sizeof(bits));
	hash = mix(hash, bits);
	memcpy(&bits, &channel->off_si, sizeof(bits));
	return mix(hash, bits);
}

/* Saved under another machine, or with other channels for its bits, it is of no use. */
static void
freeze_machine(struct lane *lane, struct freeze *freeze)
{
	for (int role = 0; role <= ROLE_RECIPE; role++) {
		uint64_t is = meaning_of(lane, role), was = is;

		freeze_u64(freeze, &was);
		if (was != is)
			freeze->failed = true;
	}
	for (int s = 0; s < lane->stations.count; s++) {
		int is = (int)line_of(lane)->stations[s].kind, was = is;

		freeze_int(freeze, &was);
		if (was != is)
			freeze->failed = true;
	}
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
	freeze_bool(freeze, &lane->form_gone);
	freeze_i64(freeze, &lane->count_then);
	freeze_machine(lane, freeze);
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
