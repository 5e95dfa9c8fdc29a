/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/features_inside.h"

#include <math.h>

#define SATURATED 0.99 /* output at which a zone has no control left */
#define SATURATED_HALF \
	0.5 /* share of the heat after which a zone counts as saturated */

/* --- zones -------------------------------------------------------------------------- */

/* Whether each zone of one side has its rated power. */
static bool
has_rated(const struct feature_source *source, int side)
{
	for (int o = 0; o < source->roles->oven_count; o++) {
		const struct oven_roles *oven = &source->roles->ovens[o];

		for (int i = 0; i < oven->zone_count[side]; i++)
			if (!(source->settings->channels[oven->zone[side][i]].rated_w >
				0.0))
				return false;
	}
	return true;
}

/* Energy of one side's zones from their outputs, each in its oven's stays; in joules. */
static struct measure
energy_side(const struct feature_source *source, const struct shot *shot, int side)
{
	const struct sheet *sheet = source->sheet;
	double energy_j = 0.0;

	if (!has_rated(source, side))
		return (struct measure){NAN, ABSENT_NOT_CONFIGURED};
	if (sheet->stay_count == 0)
		return (struct measure){NAN, ABSENT_NOT_APPLICABLE};
	for (int s = 0; s < sheet->stay_count; s++) {
		const struct stay *stay = &sheet->stays[s];
		const struct oven_roles *oven = &source->roles->ovens[stay->oven];
		double stay_s = edge_span_s(&stay->in, &stay->out);

		for (int i = 0; i < oven->zone_count[side]; i++) {
			uint32_t channel = oven->zone[side][i];
			struct shot_channel zone =
			    feature_stay_summary(source, shot, channel, s);

			if (zone.absent != ABSENT_NOT)
				return (struct measure){NAN, zone.absent};
			energy_j += source->settings->channels[channel].rated_w *
			            zone.mean * stay_s;
		}
	}
	return (struct measure){energy_j, ABSENT_NOT};
}

static void
energy(const struct feature_source *source, const int zones[2], struct shot *shot)
{
	static const int energy_of[2] = {
	    FEATURE_ENERGY_TOP_KWH, FEATURE_ENERGY_BOTTOM_KWH};
	struct measure all = {0.0, ABSENT_NOT};

	for (int side = 0; side < 2; side++) {
		struct measure one;

		if (zones[side] == 0)
			continue;
		one = energy_side(source, shot, side);
		feature_put(shot, energy_of[side], one);
		all.value += one.value;
		if (one.absent != ABSENT_NOT && all.absent != ABSENT_NOT_CONFIGURED)
			all.absent = one.absent;
	}
	feature_put(shot, FEATURE_ENERGY_KWH, all);
}

/* Share of the stays in an oven that one of its zones spent without control left. */
static struct measure
saturation_of(const struct feature_source *source, int oven, uint32_t channel)
{
	struct window windows[SHEET_STAYS_MAX];
	size_t count = 0;

	for (int s = 0; s < source->sheet->stay_count; s++)
		if (source->sheet->stays[s].oven == oven)
			windows[count++] = sheet_stay_window(&source->sheet->stays[s]);
	return window_share_above(source->history, channel, windows, count, SATURATED,
	    source->line->coverage_min);
}

static bool
was_in(const struct sheet *sheet, int oven)
{
	for (int s = 0; s < sheet->stay_count; s++)
		if (sheet->stays[s].oven == oven)
			return true;
	return false;
}

/* Over the zones of the ovens that the sheet has been in. */
static void
saturation(const struct feature_source *source, struct shot *shot)
{
	struct measure most = {0.0, ABSENT_NOT};
	int saturated = 0;

	if (source->sheet->stay_count == 0)
		most.absent = ABSENT_NOT_APPLICABLE;
	for (int o = 0; o < source->roles->oven_count; o++) {
		const struct oven_roles *oven = &source->roles->ovens[o];

		if (!was_in(source->sheet, o))
			continue;
		for (int i = 0; i < oven->zone_count[0] + oven->zone_count[1]; i++) {
			uint32_t channel = i < oven->zone_count[0]
			                       ? oven->zone[0][i]
			                       : oven->zone[1][i - oven->zone_count[0]];
			struct measure share = saturation_of(source, o, channel);

			if (share.absent != ABSENT_NOT)
				most.absent = share.absent;
			most.value = fmax(most.value, share.value);
			saturated += share.value > SATURATED_HALF;
		}
	}
	feature_put(shot, FEATURE_SATURATION_MAX, most);
	feature_put(
	    shot, FEATURE_SATURATED_ZONES, (struct measure){saturated, most.absent});
}

static void
zones(const struct feature_source *source, struct shot *shot)
{
	int count[2] = {0, 0};

	for (int o = 0; o < source->roles->oven_count; o++)
		for (int side = 0; side < 2; side++)
			count[side] += source->roles->ovens[o].zone_count[side];
	if (count[0] + count[1] == 0)
		return;
	energy(source, count, shot);
	saturation(source, shot);
}

/* --- meter -------------------------------------------------------------------------- */

/* What the meter went up by between two moments, in joules. */
static struct measure
meter_rise(const struct feature_source *source, struct mono start, struct mono end)
{
	uint32_t channel = (uint32_t)source->roles->meter;
	struct measure from = window_value_at(source->history, channel, start);
	struct measure to = window_value_at(source->history, channel, end);

	if (from.absent == ABSENT_NOT && to.absent == ABSENT_NOT &&
	    to.value < from.value)
		to.absent = ABSENT_OUT_OF_RANGE; /* the meter was reset or wrapped */
	return (struct measure){
	    to.value - from.value, from.absent != ABSENT_NOT ? from.absent : to.absent};
}

/* From heat start to the arrival at the form station. */
static void
meter(const struct feature_source *source, struct shot *shot)
{
	const struct edge *start = sheet_heat_start(source->sheet);
	const struct edge *arrived = &source->sheet->arrived;
	struct measure rise = {NAN, ABSENT_NOT_APPLICABLE};

	if (source->roles->meter == ROLES_NONE)
		return;
	if (start->known && arrived->known)
		rise = meter_rise(source, edge_time(start), edge_time(arrived));
	feature_put(shot, FEATURE_METER_KWH, rise);
}

/* Whether the zones of this side are all that its meter can tell of, each with its rated
 * power. */
static bool
covers_meter(const struct feature_source *source)
{
	const struct settings *settings = source->settings;
	bool common = settings->channels[source->roles->meter].side < 0;
	int zones = 0;

	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];

		if (&settings->lines[settings->devices[channel->device].line] !=
			source->line ||
		    (channel->role != ROLE_ZONE_TOP &&
			channel->role != ROLE_ZONE_BOTTOM))
			continue;
		if (!(channel->rated_w > 0.0) || (common && channel->side >= 0))
			return false;
		zones++;
	}
	return zones > 0;
}

/* Energy of all zones of all ovens over one window, in joules: what a meter sees. */
static struct measure
energy_of_all(const struct feature_source *source, struct window window)
{
	double energy_j = 0.0;

	for (int o = 0; o < source->roles->oven_count; o++) {
		const struct oven_roles *oven = &source->roles->ovens[o];

		for (int i = 0; i < oven->zone_count[0] + oven->zone_count[1]; i++) {
			uint32_t channel = i < oven->zone_count[0]
			                       ? oven->zone[0][i]
			                       : oven->zone[1][i - oven->zone_count[0]];
			struct shot_channel zone = window_summary(source->history,
			    channel, window, source->line->coverage_min);

			if (zone.absent != ABSENT_NOT)
				return (struct measure){NAN, zone.absent};
			energy_j += source->settings->channels[channel].rated_w *
			            zone.mean * window_s(window);
		}
	}
	if (!(energy_j > 0.0))
		return (struct measure){NAN, ABSENT_NOT_APPLICABLE};
	return (struct measure){energy_j, ABSENT_NOT};
}

/* Both over the very same time, from the first oven to the last, ways between included: the
 * meter and the zones of every oven go on then too. */
static void
meter_ratio(const struct feature_source *source, struct shot *shot)
{
	struct window heat = sheet_heat(source->sheet);
	struct measure ratio = {NAN, ABSENT_NOT_APPLICABLE}, energy;

	if (source->roles->meter == ROLES_NONE || !covers_meter(source))
		return;
	if (heat.known) {
		ratio = meter_rise(source, heat.from, heat.to);
		energy = energy_of_all(source, heat);
		ratio.value /= energy.value;
		if (ratio.absent == ABSENT_NOT)
			ratio.absent = energy.absent;
	}
	feature_put(shot, FEATURE_METER_RATIO, ratio);
}

void
features_energy(const struct feature_source *source, struct shot *shot)
{
	zones(source, shot);
	meter(source, shot);
	meter_ratio(source, shot);
}
