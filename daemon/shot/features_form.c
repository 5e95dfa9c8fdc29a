/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/features_inside.h"

#include "daemon/shot/tool_spread.h"

#include <math.h>

double
feature_tool_correction_dc(const struct feature_source *source)
{
	const struct roles *roles = source->roles;
	double sum_dc = 0.0;

	if (source->circumstances->correction == NULL || roles->tool_count == 0)
		return 0.0;
	for (int i = 0; i < roles->tool_count; i++)
		sum_dc += source->circumstances->correction[roles->tool[i]];
	return sum_dc / roles->tool_count;
}

double
features_tool_mean_uncorrected_c(
    const struct feature_source *source, const struct shot *shot)
{
	return shot->value[FEATURE_TOOL_MEAN_C] - feature_tool_correction_dc(source);
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
	feature_put(shot, FEATURE_TOOL_MEAN_C, (struct measure){spread.mean_c, absent});
	feature_put(
	    shot, FEATURE_TOOL_SWING_DC, (struct measure){spread.swing_dc, absent});
	feature_put(shot, FEATURE_TOOL_DRIFT_DC,
	    (struct measure){spread.mean_c - feature_tool_correction_dc(source) -
				 source->sheet->last_tool_mean_c,
		absent == ABSENT_NOT && isnan(source->sheet->last_tool_mean_c)
		    ? ABSENT_NOT_APPLICABLE
		    : absent});
	if (source->roles->tool_count < 2)
		absent = ABSENT_NOT_CONFIGURED;
	feature_put(shot, FEATURE_TOOL_SPREAD_START_DC,
	    (struct measure){spread.start_dc,
		absent == ABSENT_NOT && isnan(spread.start_dc) ? ABSENT_LOW_COVERAGE
							       : absent});
	feature_put(shot, FEATURE_TOOL_SPREAD_MEAN_DC,
	    (struct measure){spread.spread_mean_dc, absent});
	feature_put(
	    shot, FEATURE_TOOL_SPREAD_P95_DC, (struct measure){spread.p95_dc, absent});
	feature_put(shot, FEATURE_TOOL_SPREAD_OF_MEANS_DC,
	    (struct measure){spread.of_means_dc, absent});
}

/* Return minus measured supply, each meaned over the form window. */
static struct measure
water_rise(const struct feature_source *source, const struct shot *shot, int circuit)
{
	const struct shot_channel *back, *supply;

	if (source->roles->water_supply[circuit] == ROLES_NONE)
		return (struct measure){NAN, ABSENT_NOT_CONFIGURED};
	back = feature_summary(shot, source->roles->water_return[circuit]);
	supply = feature_summary(shot, (uint32_t)source->roles->water_supply[circuit]);
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

		feature_put(shot, FEATURE_WATER_RISE_FIRST + k, rise);
		mean.value += rise.value / source->roles->circuit_count;
		if (rise.absent != ABSENT_NOT)
			mean.absent = rise.absent;
	}
	if (source->roles->circuit_count == 0)
		return;
	feature_put(shot, FEATURE_WATER_RISE_DC, mean);
	if (source->roles->water_supply[0] != ROLES_NONE) {
		const struct shot_channel *supply =
		    feature_summary(shot, (uint32_t)source->roles->water_supply[0]);

		feature_put(shot, FEATURE_WATER_SUPPLY_C,
		    (struct measure){supply->mean, supply->absent});
	}
}

void
features_form(const struct feature_source *source, struct shot *shot)
{
	tool(source, shot);
	water(source, shot);
}
