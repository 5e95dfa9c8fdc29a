/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Plays a three-station rotary to a tracker: true states in, scans at the polls out.
 * Invented plant, for the tests of daemon/shot only.
 */
#ifndef TESTS_UNIT_DAEMON_SHOT_PLAYER_H
#define TESTS_UNIT_DAEMON_SHOT_PLAYER_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/raw.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"

static const char player_ini[] =
    "[site]\nname = t\ntimezone = UTC\ntemperature_unit = C\n"
    "[ledger]\npath = /tmp/none.db\n"
    "[line r]\nmachine = rotary\nstations = load, oven, form\nheat_min_s = 30\n"
    "heat_timer_s = 230\nform_limit_s = 30\nstartup_shots = 0\nstartup_after_s = 900\n"
    "rate_from_s = 10\nrate_to_s = 40\ncoverage_min_percent = 80\n"
    "[device plc]\nline = r\naddress = 127.0.0.1:1502\nunit_id = 1\nperiod_ms = 500\n"
    "[channel plc.rotating]\nrole = rotating\ntable = discrete\naddress = 0\ntype = "
    "bit\n"
    "debounce_ms = 0\n"
    "[channel plc.form]\nrole = form_closed\ntable = discrete\naddress = 1\ntype = "
    "bit\n"
    "debounce_ms = 0\n"
    "[channel plc.eye]\nrole = sag_eye\ntable = discrete\naddress = 2\ntype = bit\n"
    "debounce_ms = 400\n"
    "[channel plc.load]\nrole = sheet_at_load\ntable = discrete\naddress = 3\ntype = "
    "bit\n"
    "debounce_ms = 0\n"
    "[channel plc.formed]\nrole = sheet_at_form\ntable = discrete\naddress = 4\ntype = "
    "bit\n"
    "debounce_ms = 0\n"
    "[channel plc.auto]\nrole = automatic\ntable = discrete\naddress = 5\ntype = bit\n"
    "debounce_ms = 0\n"
    "[channel plc.fault]\nrole = fault\ntable = discrete\naddress = 6\ntype = bit\n"
    "debounce_ms = 0\n"
    "[channel plc.recipe]\nrole = recipe\ntable = holding\naddress = 0\ntype = uint16\n"
    "[channel plc.count]\nrole = cycle_count\ntable = holding\naddress = 1\ntype = "
    "uint16\n"
    "[device io]\nline = r\naddress = 127.0.0.1:1503\nunit_id = 1\nperiod_ms = 1000\n"
    "[channel io.top]\nrole = surface_top\ncount = 2\ntable = input\naddress = 0\n"
    "type = int16\nscale = 0.1\nunit = C\nsentinels = 0x8000\n"
    "[channel io.bottom]\nrole = surface_bottom\ntable = input\naddress = 2\ntype = "
    "int16\n"
    "scale = 0.1\nunit = C\nsentinels = 0x8000\n"
    "[channel io.zone]\nrole = zone_top\ncount = 2\ntable = input\naddress = 4\n"
    "type = uint16\nscale = 0.1\nunit = %\nrated_kw = 3\nsentinels = 0x8000\n"
    "[channel io.tool]\nrole = tool\ncount = 3\ntable = input\naddress = 8\ntype = "
    "int16\n"
    "scale = 0.1\nunit = C\nsentinels = 0x8000\n"
    "[channel io.back]\nrole = water_return\ncount = 2\ntable = input\naddress = 12\n"
    "type = int16\nscale = 0.1\nunit = C\nsentinels = 0x8000\n"
    "[channel io.supply]\nrole = water_supply\ntable = input\naddress = 16\ntype = "
    "int16\n"
    "scale = 0.1\nunit = C\nsentinels = 0x8000\n"
    "[recipe 7]\nname = seven\n";

/* Channels in the order of the text above. */
enum {
	PLC_ROTATING,
	PLC_FORM,
	PLC_EYE,
	PLC_LOAD,
	PLC_FORMED,
	PLC_AUTO,
	PLC_FAULT,
	PLC_RECIPE,
	PLC_COUNT,
	PLC_CHANNELS
};
enum {
	IO_TOP_1,
	IO_TOP_2,
	IO_BOTTOM,
	IO_ZONE_1,
	IO_ZONE_2,
	IO_TOOL_1,
	IO_TOOL_2,
	IO_TOOL_3,
	IO_BACK_1,
	IO_BACK_2,
	IO_SUPPLY,
	IO_CHANNELS,
	/* Of player_inside, in the order of its text. */
	IO_FLOW_1 = IO_CHANNELS,
	IO_FLOW_2,
	IO_STACK,
	IO_AMBIENT,
	IO_METER,
	IO_ROOM
};

/* What is added to the text above for the inside of the sheet and the tool's water. */
static const char player_inside[] =
    "material = stuff\nthickness = 4 mm\nsheet_length = 1800 mm\n"
    "sheet_width = 1200 mm\ndemould = 80 C\n"
    "[material stuff]\nversion = 2\nstructure = amorphous\ndensity_kg_per_m3 = 1050\n"
    "heat_capacity_j_per_kgk = 2050\nconductivity_w_per_mk = 0.18\n"
    "degrades_above = 152 C\n"
    "[tool T-1]\nwater_bore = 12.7 mm\n"
    "[channel io.flow]\nrole = water_flow\ncount = 2\ntable = input\naddress = 17\n"
    "type = uint16\nscale = 0.1\nunit = L/min\nsentinels = 0x8000\n"
    "[channel io.stack]\nrole = stack\ntable = input\naddress = 19\ntype = int16\n"
    "scale = 0.1\nunit = C\nsentinels = 0x8000\n"
    "[channel io.ambient]\nrole = ambient\ntable = input\naddress = 20\ntype = int16\n"
    "scale = 0.1\nunit = C\nsentinels = 0x8000\n"
    "[channel io.meter]\nrole = energy_meter\ntable = input\naddress = 21\n"
    "type = uint16\nscale = 0.01\nunit = kWh\nsentinels = 0x8000\n";

enum { PLAYER_SHOTS = 600, PLAYER_SENTINEL = 0x8000 };

struct player {
	struct settings *settings;
	struct settings *plant; /* by which values stand in the registers */
	struct tracker *tracker;
	int64_t now_ms, wall_offset_ms;
	double plc[PLC_CHANNELS], io[IO_ROOM];
	bool plc_silent, io_silent, io_fault[IO_ROOM];
	bool skip_rotating; /* the line has no such bit */
	double unknown;     /* what a channel shows that player_ini has not */
	bool
	    at_exit; /* pyrometers see the oven's wall, and a sheet only as it leaves */
	int next_sheet; /* the number of the sheet being loaded */
	int oven, form; /* the numbers of the sheets there; 0: empty frame */
	size_t shot_count, event_count;
	struct shot *shots[PLAYER_SHOTS];
	char last_event[32];
	/* Gets every scan too; NULL: nobody does. */
	void (*also)(void *arg, const struct scan *scan);
	void *also_arg;
};

static inline void
player_take(void *arg, struct shot *shot)
{
	struct player *player = arg;

	if (player->shot_count < PLAYER_SHOTS)
		player->shots[player->shot_count++] = shot;
	else
		shot_free(shot);
}

static inline void
player_event(void *arg, struct wall at, const char *kind, const char *text)
{
	struct player *player = arg;

	(void)at;
	(void)text;
	player->event_count++;
	snprintf(player->last_event, sizeof(player->last_event), "%s", kind);
}

static inline struct settings *
player_parse(const char *ini)
{
	static struct problems problems;
	struct settings *settings = settings_parse(ini, "player.ini", &problems);

	if (settings == NULL) {
		fprintf(stderr, "%s\n", problems.list[0].text);
		abort();
	}
	return settings;
}

/* A plant by `plant_ini`, read under `ini`, which may be wrong about what stands in its
 * registers. */
static inline void
player_init_as(struct player *player, const char *ini, const char *plant_ini)
{
	memset(player, 0, sizeof(*player));
	player->settings = player_parse(ini);
	player->plant = player_parse(plant_ini);
	player->tracker = tracker_new(player->settings, 0, (struct tracker_start){0},
	    (struct tracker_sink){
		.shot = player_take, .event = player_event, .arg = player});
	player->now_ms = 1000000;
	player->wall_offset_ms = 1700000000000;
	player->plc[PLC_AUTO] = 1;
	player->plc[PLC_RECIPE] = 7;
	player->plc[PLC_COUNT] = 100;
	player->io[IO_SUPPLY] = 65.0;
	player->io[IO_BACK_1] = 66.0;
	player->io[IO_BACK_2] = 67.0;
}

static inline void
player_init_under(struct player *player, const char *ini)
{
	player_init_as(player, ini, player_ini);
}

static inline void
player_init(struct player *player)
{
	player_init_under(player, player_ini);
}

static inline void
player_release(struct player *player)
{
	for (size_t i = 0; i < player->shot_count; i++)
		shot_free(player->shots[i]);
	tracker_free(player->tracker);
	settings_free(player->settings);
	settings_free(player->plant);
}

/* The register that holds a value. */
static inline uint32_t
player_raw(const struct channel_settings *channel, double value)
{
	double shown = unit_from_si(channel->unit, channel->dimension, value);

	if (channel->encoding == ENCODING_BIT)
		return value != 0.0;
	return (uint32_t)lround((shown - channel->offset) / channel->scale) & 0xffff;
}

static inline void
player_scan(struct player *player, uint32_t device, const double *values,
    uint32_t count, bool silent, const bool *faults)
{
	struct scan *scan = calloc(1, scan_bytes(count));

	scan->device = device;
	scan->sent.ns = scan->at.ns = player->now_ms * 1000000;
	scan->wall.ns = (player->now_ms + player->wall_offset_ms) * 1000000;
	scan->count = count;
	for (uint32_t i = 0; i < count; i++) {
		uint32_t channel = player->settings->devices[device].first_channel + i;
		uint32_t there = player->plant->devices[device].first_channel + i +
		                 (device == 0 && player->skip_rotating);
		uint32_t raw =
		    faults != NULL && faults[i]
			? PLAYER_SENTINEL
			: player_raw(&player->plant->channels[there], values[i]);

		scan->readings[i] =
		    silent ? (struct reading){NAN, QUALITY_COMM_FAULT, 0}
			   : raw_reading(&player->settings->channels[channel], raw);
	}
	tracker_scan(player->tracker, scan);
	if (player->also != NULL)
		player->also(player->also_arg, scan);
	free(scan);
}

/* What the channel shows, which is known by its name. */
static inline uint32_t
player_raw_of(const struct player *player, const struct channel_settings *channel)
{
	const struct device_settings *there = &player->plant->devices[channel->device];
	const double *values = channel->device == 0 ? player->plc : player->io;

	for (uint32_t i = 0; i < there->channel_count; i++) {
		const struct channel_settings *one =
		    &player->plant->channels[there->first_channel + i];

		if (strcmp(one->name, channel->name) == 0)
			return channel->device == 1 && player->io_fault[i]
			           ? PLAYER_SENTINEL
			           : player_raw(one, values[i]);
	}
	return player_raw(channel, player->unknown);
}

/* One group of a device's channels. */
static inline void
player_group(struct player *player, uint32_t device, int number)
{
	const struct device_settings *its = &player->settings->devices[device];
	const struct group_settings *group = &its->groups[number];
	bool silent = device == 0 ? player->plc_silent : player->io_silent;
	struct scan *scan = calloc(1, scan_bytes(group->count));

	scan->device = device;
	scan->first = group->first;
	scan->sent.ns = scan->at.ns = player->now_ms * 1000000;
	scan->wall.ns = (player->now_ms + player->wall_offset_ms) * 1000000;
	scan->count = group->count;
	for (uint32_t i = 0; i < scan->count; i++) {
		const struct channel_settings *channel =
		    &player->settings->channels[its->first_channel + group->first + i];

		scan->readings[i] =
		    silent ? (struct reading){NAN, QUALITY_COMM_FAULT, 0}
			   : raw_reading(channel, player_raw_of(player, channel));
	}
	raw_apply_faults(player->settings, scan);
	tracker_scan(player->tracker, scan);
	if (player->also != NULL)
		player->also(player->also_arg, scan);
	free(scan);
}

/* Those of a device that has several, each at its own time. */
static inline bool
player_groups(struct player *player, uint32_t device)
{
	const struct device_settings *its = &player->settings->devices[device];

	for (int g = 0; its->group_count > 1 && g < its->group_count; g++) {
		int64_t period_ms = llround(its->groups[g].period_s * 1000.0);

		if ((player->now_ms - 300 * device - 100 * g) % period_ms == 0)
			player_group(player, device, g);
	}
	return its->group_count > 1;
}

/* Lets time pass; polls at the devices' periods. */
static inline void
player_run(struct player *player, double seconds)
{
	int64_t end_ms = player->now_ms + (int64_t)(seconds * 1000.0);

	while (player->now_ms < end_ms) {
		player->now_ms += 100;
		if (!player_groups(player, 0) && player->now_ms % 500 == 0)
			player_scan(player, 0, player->plc + player->skip_rotating,
			    PLC_CHANNELS - player->skip_rotating, player->plc_silent,
			    NULL);
		if (!player_groups(player, 1) && player->now_ms % 1000 == 300)
			player_scan(player, 1, player->io,
			    player->settings->devices[1].channel_count,
			    player->io_silent, player->io_fault);
	}
}

/* The surfaces of sheet n end at 150 + n / 10, its tool stands at 60 + n / 10. */
static inline double
player_mark(int sheet)
{
	return (double)sheet / 10.0;
}

static inline void
player_see(struct player *player, double surface)
{
	player->io[IO_TOP_1] = surface;
	player->io[IO_TOP_2] = surface + 4.0;
	player->io[IO_BOTTOM] = surface - 10.0;
}

static inline void
player_dress(struct player *player)
{
	double surface = 150.0 + player_mark(player->oven);
	double tool = 60.0 + player_mark(player->form);

	player_see(player, player->at_exit ? 310.0 : surface);
	player->io[IO_ZONE_1] = 0.5;
	player->io[IO_ZONE_2] = 1.0;
	player->io[IO_TOOL_1] = tool;
	player->io[IO_TOOL_2] = tool + 1.0;
	player->io[IO_TOOL_3] = tool - 0.5;
}

/* All frames one station on, 8 s; `loaded`: the frame at load carries a sheet. */
static inline void
player_index(struct player *player, bool loaded)
{
	player->plc[PLC_LOAD] = loaded;
	player_run(player, 2.0);
	player->plc[PLC_ROTATING] = 1;
	player_run(player, 1.0);
	player->plc[PLC_EYE] = 0;
	if (player->at_exit)
		player_see(player, 150.0 + player_mark(player->oven));
	player_run(player, 7.0);
	player->form = player->oven;
	player->oven = loaded ? ++player->next_sheet : 0;
	player_dress(player);
	player->plc[PLC_LOAD] = 0;
	player->plc[PLC_FORMED] = player->form != 0;
	player->plc[PLC_COUNT] += 1;
	player->plc[PLC_ROTATING] = 0;
}

/* After an index: platens close for `form_s`, the sheet sags after `sag_s`, and the whole
 * stay lasts `stay_s`. */
static inline void
player_stay(struct player *player, double form_s, double sag_s, double stay_s)
{
	for (double t = 0.0; t < stay_s; t += 1.0) {
		if (fabs(t - 3.0) < 0.1 && player->form != 0 && form_s > 0.0)
			player->plc[PLC_FORM] = 1;
		if (fabs(t - 3.0 - form_s) < 0.1)
			player->plc[PLC_FORM] = 0;
		if (sag_s > 0.0 && fabs(t - sag_s) < 0.1 && player->oven != 0)
			player->plc[PLC_EYE] = 1;
		player_run(player, 1.0);
	}
}

static inline void
player_cycles(struct player *player, int count)
{
	for (int i = 0; i < count; i++) {
		player_index(player, true);
		player_stay(player, 100.0, 120.0, 140.0);
	}
}

/* --- as a cmocka fixture --- */

static inline int
player_setup(void **state)
{
	*state = malloc(sizeof(struct player));
	player_init(*state);
	return 0;
}

static inline int
player_teardown(void **state)
{
	player_release(*state);
	free(*state);
	return 0;
}

/* The shot of sheet n: 1 is the first loaded.  Two unseen frames leave before it. */
static inline const struct shot *
shot_of(const struct player *player, int sheet)
{
	assert_true((size_t)sheet + 1 < player->shot_count);
	return player->shots[sheet + 1];
}

#define PLAYED(f) cmocka_unit_test_setup_teardown(f, player_setup, player_teardown)

#endif
