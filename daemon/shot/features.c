/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/features.h"

#include "daemon/shot/tool_spread.h"

#include <assert.h>
#include <math.h>

#define EXIT_FIT_S 5.0 /* end-of-heat surfaces: line fitted over this long */
#define SATURATED 0.99 /* output at which a zone has no control left */
#define SATURATED_HALF \
	0.5 /* share of the heat after which a zone counts as saturated */

static void
put(struct shot *shot, int feature, struct measure measure)
{
	shot->value[feature] = measure.absent == ABSENT_NOT ? measure.value : NAN;
	shot->absent[feature] = (unsigned char)measure.absent;
}

/* A duration: a number, or not applicable to this shot. */
static void
put_span(struct shot *shot, int feature, double span_s)
{
	put(shot, feature,
	    (struct measure){
		span_s, isnan(span_s) ? ABSENT_NOT_APPLICABLE : ABSENT_NOT});
}

/* The summary of one of the line's measures: every one of them is there. */
static struct shot_channel *
summary_of(const struct shot *shot, uint32_t channel)
{
	size_t i = 0;

	while (shot->channels[i].channel != channel) {
		i++;
		assert(i < shot->channel_count);
	}
	return &shot->channels[i];
}

static bool
seen_in_oven(enum role role)
{
	return role == ROLE_SURFACE_TOP || role == ROLE_SURFACE_BOTTOM ||
	       role == ROLE_ZONE_TOP || role == ROLE_ZONE_BOTTOM ||
	       role == ROLE_STACK || role == ROLE_AMBIENT || role == ROLE_ENERGY_METER;
}

static void
summarise_channels(const struct feature_source *source, struct shot *shot)
{
	struct window heat = sheet_heat(source->sheet),
		      form = sheet_form(source->sheet);

	shot->channel_count = source->roles->all_count;
	for (size_t i = 0; i < source->roles->all_count; i++) {
		uint32_t channel = source->roles->all[i];
		enum role role = source->settings->channels[channel].role;

		shot->channels[i] = window_summary(source->history, channel,
		    seen_in_oven(role) ? heat : form, source->line->coverage_min);
	}
}

/* The last EXIT_FIT_S of a heat, longer where the polls are slow. */
static struct window
exit_window(struct window heat, double period_s)
{
	double fit_s = fmax(EXIT_FIT_S, 4.0 * period_s);
	struct window window = heat;

	window.from.ns = heat.to.ns - (int64_t)(fit_s * (double)CLOCK_SECOND_NS);
	if (window.from.ns < heat.from.ns)
		window.from = heat.from;
	return window;
}

/* One pyrometer at the end of the heat; also its channel's `last`. */
static struct measure
exit_surface(const struct feature_source *source, struct shot *shot, uint32_t channel)
{
	const struct channel_settings *settings = &source->settings->channels[channel];
	struct window heat = sheet_heat(source->sheet);
	struct measure measure = {NAN, ABSENT_NOT_APPLICABLE};

	if (heat.known)
		measure = window_line_at(source->history, channel,
		    exit_window(
			heat, source->settings->devices[settings->device].period_s),
		    edge_time(&source->sheet->heat_end), NULL);
	if (measure.absent == ABSENT_NOT &&
	    summary_of(shot, channel)->absent == ABSENT_NOT)
		summary_of(shot, channel)->last = measure.value;
	return measure;
}

/* Mean over the good positions of one side, their spread (absent when a position is
 * missing), and each position. */
static void
exit_side(const struct feature_source *source, struct shot *shot, int side)
{
	static const int mean_of[2] = {FEATURE_EXIT_TOP_C, FEATURE_EXIT_BOTTOM_C};
	static const int spread_of[2] = {
	    FEATURE_EXIT_SPREAD_TOP_DC, FEATURE_EXIT_SPREAD_BOTTOM_DC};
	static const int first_of[2] = {
	    FEATURE_EXIT_TOP_FIRST, FEATURE_EXIT_BOTTOM_FIRST};
	int count = source->roles->surface_count[side], good = 0;
	enum absent missing = ABSENT_NOT;
	double sum = 0.0, low = INFINITY, high = -INFINITY;

	if (count == 0)
		return;
	for (int i = 0; i < count; i++) {
		struct measure one =
		    exit_surface(source, shot, source->roles->surface[side][i]);

		put(shot, first_of[side] + i, one);
		if (one.absent != ABSENT_NOT) {
			missing = one.absent;
			continue;
		}
		good++;
		sum += one.value;
		low = fmin(low, one.value);
		high = fmax(high, one.value);
	}
	put(shot, mean_of[side],
	    (struct measure){sum / good, good > 0 ? ABSENT_NOT : missing});
	put(shot, spread_of[side],
	    (struct measure){high - low, count < 2 ? ABSENT_NOT_CONFIGURED : missing});
}

/* Mean slope of one side's pyrometers in the line's rate window. */
static struct measure
rate_side(const struct feature_source *source, int side)
{
	struct window heat = sheet_heat(source->sheet), window = heat;
	struct measure last = {NAN, ABSENT_NOT_APPLICABLE};
	double sum = 0.0, slope;
	int good = 0;

	if (!heat.known)
		return last;
	window.from.ns = edge_time(&source->sheet->heat_start).ns +
	                 (int64_t)(source->line->rate_from_s * (double)CLOCK_SECOND_NS);
	window.to.ns = edge_time(&source->sheet->heat_start).ns +
	               (int64_t)(source->line->rate_to_s * (double)CLOCK_SECOND_NS);
	if (window.to.ns > heat.to.ns)
		return last;
	for (int i = 0; i < source->roles->surface_count[side]; i++) {
		last = window_line_at(source->history, source->roles->surface[side][i],
		    window, window.from, &slope);
		if (last.absent == ABSENT_NOT) {
			sum += slope;
			good++;
		}
	}
	return good > 0 ? (struct measure){sum / good, ABSENT_NOT} : last;
}

static void
heat_surfaces(const struct feature_source *source, struct shot *shot)
{
	for (int side = 0; side < 2; side++) {
		exit_side(source, shot, side);
		if (source->roles->surface_count[side] > 0)
			put(shot, side == 0 ? FEATURE_RATE_TOP : FEATURE_RATE_BOTTOM,
			    rate_side(source, side));
	}
	if (source->roles->surface_count[0] > 0 &&
	    source->roles->surface_count[1] > 0) {
		enum absent absent = shot->absent[FEATURE_EXIT_TOP_C] != ABSENT_NOT
		                         ? shot->absent[FEATURE_EXIT_TOP_C]
		                         : shot->absent[FEATURE_EXIT_BOTTOM_C];

		put(shot, FEATURE_EXIT_DIFFERENCE_DC,
		    (struct measure){shot->value[FEATURE_EXIT_TOP_C] -
					 shot->value[FEATURE_EXIT_BOTTOM_C],
			absent});
	}
	if (source->roles->stack != ROLES_NONE) {
		struct measure stack = {NAN, ABSENT_NOT_APPLICABLE};

		if (source->sheet->heat_start.known)
			stack = window_value_at(source->history,
			    (uint32_t)source->roles->stack,
			    edge_time(&source->sheet->heat_start));
		put(shot, FEATURE_STACK_C, stack);
	}
}

/* Energy of one side's zones from their outputs, in joules. */
static struct measure
energy_side(const struct feature_source *source, const struct shot *shot, int side)
{
	double heat_s =
	    edge_span_s(&source->sheet->heat_start, &source->sheet->heat_end);
	double energy_j = 0.0;

	for (int i = 0; i < source->roles->zone_count[side]; i++) {
		uint32_t channel = source->roles->zone[side][i];
		const struct shot_channel *zone = summary_of(shot, channel);

		if (zone->absent != ABSENT_NOT)
			return (struct measure){NAN, zone->absent};
		energy_j +=
		    source->settings->channels[channel].rated_w * zone->mean * heat_s;
	}
	return (struct measure){energy_j, ABSENT_NOT};
}

static void
heat_zones(const struct feature_source *source, struct shot *shot)
{
	struct measure side[2], all = {0.0, ABSENT_NOT};
	struct measure most = {0.0, ABSENT_NOT};
	int saturated = 0;

	if (source->roles->zone_count[0] + source->roles->zone_count[1] == 0)
		return;
	for (int s = 0; s < 2; s++) {
		side[s] = energy_side(source, shot, s);
		all.value += side[s].value;
		if (side[s].absent != ABSENT_NOT)
			all.absent = side[s].absent;
		if (source->roles->zone_count[s] > 0)
			put(shot,
			    s == 0 ? FEATURE_ENERGY_TOP_KWH : FEATURE_ENERGY_BOTTOM_KWH,
			    side[s]);
		for (int i = 0; i < source->roles->zone_count[s]; i++) {
			struct measure share = window_share_above(source->history,
			    source->roles->zone[s][i], sheet_heat(source->sheet),
			    SATURATED, source->line->coverage_min);

			if (share.absent != ABSENT_NOT)
				most.absent = share.absent;
			most.value = fmax(most.value, share.value);
			saturated += share.value > SATURATED_HALF;
		}
	}
	put(shot, FEATURE_ENERGY_KWH, all);
	put(shot, FEATURE_SATURATION_MAX, most);
	put(shot, FEATURE_SATURATED_ZONES, (struct measure){saturated, most.absent});
}

/* The meter's difference from the index that brought the sheet to the one that took it. */
static void
meter(const struct feature_source *source, struct shot *shot)
{
	struct measure from = {NAN, ABSENT_NOT_APPLICABLE}, to = from;

	if (source->roles->meter == ROLES_NONE)
		return;
	if (source->sheet->heat_start.known && source->sheet->next_index.known) {
		uint32_t channel = (uint32_t)source->roles->meter;

		from = window_value_at(
		    source->history, channel, edge_time(&source->sheet->heat_start));
		to = window_value_at(
		    source->history, channel, edge_time(&source->sheet->next_index));
	}
	if (from.absent == ABSENT_NOT && to.absent == ABSENT_NOT &&
	    to.value < from.value)
		to.absent = ABSENT_OUT_OF_RANGE; /* the meter was reset or wrapped */
	put(shot, FEATURE_METER_KWH,
	    (struct measure){to.value - from.value,
		from.absent != ABSENT_NOT ? from.absent : to.absent});
}

static void
tool(const struct feature_source *source, struct shot *shot)
{
	struct tool_spread spread;
	enum absent absent;

	if (source->roles->tool_count == 0)
		return;
	absent = tool_spread_compute(source->history, source->roles->tool,
	    (size_t)source->roles->tool_count, sheet_form(source->sheet),
	    source->line->coverage_min, &spread);
	put(shot, FEATURE_TOOL_MEAN_C, (struct measure){spread.mean_c, absent});
	put(shot, FEATURE_TOOL_SWING_DC, (struct measure){spread.swing_dc, absent});
	put(shot, FEATURE_TOOL_DRIFT_DC,
	    (struct measure){spread.mean_c - source->sheet->last_tool_mean_c,
		absent == ABSENT_NOT && isnan(source->sheet->last_tool_mean_c)
		    ? ABSENT_NOT_APPLICABLE
		    : absent});
	if (source->roles->tool_count < 2)
		absent = ABSENT_NOT_CONFIGURED;
	put(shot, FEATURE_TOOL_SPREAD_START_DC,
	    (struct measure){spread.start_dc,
		absent == ABSENT_NOT && isnan(spread.start_dc) ? ABSENT_LOW_COVERAGE
							       : absent});
	put(shot, FEATURE_TOOL_SPREAD_MEAN_DC,
	    (struct measure){spread.spread_mean_dc, absent});
	put(shot, FEATURE_TOOL_SPREAD_P95_DC, (struct measure){spread.p95_dc, absent});
	put(shot, FEATURE_TOOL_SPREAD_OF_MEANS_DC,
	    (struct measure){spread.of_means_dc, absent});
}

/* Return minus measured supply, each meaned over the form window. */
static struct measure
water_rise(const struct feature_source *source, const struct shot *shot, int circuit)
{
	const struct shot_channel *back, *supply;

	if (source->roles->water_supply[circuit] == ROLES_NONE)
		return (struct measure){NAN, ABSENT_NOT_CONFIGURED};
	back = summary_of(shot, source->roles->water_return[circuit]);
	supply = summary_of(shot, (uint32_t)source->roles->water_supply[circuit]);
	if (back->absent != ABSENT_NOT)
		return (struct measure){NAN, back->absent};
	return (struct measure){back->mean - supply->mean, supply->absent};
}

static void
water(const struct feature_source *source, struct shot *shot)
{
	struct measure mean = {0.0, ABSENT_NOT};

	for (int k = 0; k < source->roles->circuit_count; k++) {
		struct measure rise = water_rise(source, shot, k);

		put(shot, FEATURE_WATER_RISE_FIRST + k, rise);
		mean.value += rise.value / source->roles->circuit_count;
		if (rise.absent != ABSENT_NOT)
			mean.absent = rise.absent;
	}
	if (source->roles->circuit_count == 0)
		return;
	put(shot, FEATURE_WATER_RISE_DC, mean);
	if (source->roles->water_supply[0] != ROLES_NONE) {
		const struct shot_channel *supply =
		    summary_of(shot, (uint32_t)source->roles->water_supply[0]);

		put(shot, FEATURE_WATER_SUPPLY_C,
		    (struct measure){supply->mean, supply->absent});
	}
}

static void
coverage(const struct feature_source *source, struct shot *shot)
{
	double least[2] = {INFINITY, INFINITY};
	bool known[2] = {
	    sheet_heat(source->sheet).known, sheet_form(source->sheet).known};

	for (size_t i = 0; i < shot->channel_count; i++) {
		enum role role =
		    source->settings->channels[shot->channels[i].channel].role;
		int window = seen_in_oven(role) ? 0 : 1;

		if (role != ROLE_OTHER)
			least[window] = fmin(least[window], shot->channels[i].coverage);
	}
	for (int w = 0; w < 2; w++)
		if (isfinite(least[w]))
			put(shot,
			    w == 0 ? FEATURE_HEAT_COVERAGE : FEATURE_FORM_COVERAGE,
			    (struct measure){least[w],
				known[w] ? ABSENT_NOT : ABSENT_NOT_APPLICABLE});
}

/*
 * The cycle that ends with this form start, and its parts: platens closed on the sheet
 * before; open and waiting, first for the sag, then for the operator or the line; the
 * index; closing.  They add up to the cycle.
 */
static void
cycle(const struct sheet *sheet, bool sag_eye, struct shot *shot)
{
	double cycle_s = edge_span_s(&sheet->last_form_start, &sheet->form_start);
	double wait_s = edge_span_s(&sheet->last_form_end, &sheet->heat_end);
	double sag_s = edge_span_s(&sheet->last_form_end, &sheet->sag);

	if (!(wait_s >= 0.0) || !sheet->next_index.known)
		cycle_s = wait_s = NAN;
	if (!sag_eye)
		sag_s = 0.0;
	else if (isnan(sag_s))
		sag_s = wait_s;
	sag_s = fmin(fmax(sag_s, 0.0), wait_s);
	put_span(shot, FEATURE_CYCLE_S, cycle_s);
	put_span(shot, FEATURE_CYCLE_FORMING_S,
	    isnan(cycle_s)
		? NAN
		: edge_span_s(&sheet->last_form_start, &sheet->last_form_end));
	put_span(shot, FEATURE_CYCLE_WAIT_SAG_S, isnan(cycle_s) ? NAN : sag_s);
	put_span(
	    shot, FEATURE_CYCLE_WAIT_LINE_S, isnan(cycle_s) ? NAN : wait_s - sag_s);
	put_span(shot, FEATURE_CYCLE_INDEX_S,
	    isnan(cycle_s) ? NAN : edge_span_s(&sheet->heat_end, &sheet->next_index));
	put_span(shot, FEATURE_CYCLE_CLOSING_S,
	    isnan(cycle_s) ? NAN : edge_span_s(&sheet->next_index, &sheet->form_start));
}

static void
times(const struct feature_source *source, struct shot *shot)
{
	const struct sheet *sheet = source->sheet;
	bool sag_eye = source->roles->bit[ROLE_SAG_EYE] != ROLES_NONE;

	put_span(
	    shot, FEATURE_HEAT_S, edge_span_s(&sheet->heat_start, &sheet->heat_end));
	if (sag_eye) {
		put_span(
		    shot, FEATURE_SAG_S, edge_span_s(&sheet->heat_start, &sheet->sag));
		put_span(shot, FEATURE_SOAK_WAIT_S,
		    edge_span_s(&sheet->sag, &sheet->heat_end));
	}
	put_span(shot, FEATURE_TRANSFER_S,
	    edge_span_s(&sheet->heat_end, &sheet->form_start));
	put_span(
	    shot, FEATURE_FORM_S, edge_span_s(&sheet->form_start, &sheet->form_end));
	cycle(sheet, sag_eye, shot);
}

void
features_compute(const struct feature_source *source, struct shot *shot)
{
	summarise_channels(source, shot);
	times(source, shot);
	heat_surfaces(source, shot);
	heat_zones(source, shot);
	meter(source, shot);
	tool(source, shot);
	water(source, shot);
	coverage(source, shot);
}
