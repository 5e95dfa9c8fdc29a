/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/judgement.h"

#include <math.h>
#include <stdlib.h>

/* What is told of each population where it has no limits. */
static const int usual_features[JUDGEMENT_USUAL] = {
    FEATURE_HEAT_S,
    FEATURE_SAG_S,
    FEATURE_SOAK_WAIT_S,
    FEATURE_EXIT_TOP_C,
    FEATURE_EXIT_BOTTOM_C,
    FEATURE_EXIT_DIFFERENCE_DC,
    FEATURE_EXIT_SPREAD_TOP_DC,
    FEATURE_EXIT_SPREAD_BOTTOM_DC,
    FEATURE_RATE_TOP,
    FEATURE_RATE_BOTTOM,
    FEATURE_ENERGY_KWH,
    FEATURE_METER_KWH,
    FEATURE_TRANSFER_S,
    FEATURE_FORM_S,
    FEATURE_TOOL_MEAN_C,
    FEATURE_TOOL_SPREAD_MEAN_DC,
    FEATURE_TOOL_SPREAD_OF_MEANS_DC,
    FEATURE_TOOL_SWING_DC,
    FEATURE_WATER_RISE_DC,
    FEATURE_CYCLE_S,
};

bool
judgement_bounded_at_zero(int feature)
{
	switch (feature) {
	case FEATURE_EXIT_SPREAD_TOP_DC:
	case FEATURE_EXIT_SPREAD_BOTTOM_DC:
	case FEATURE_TOOL_SPREAD_START_DC:
	case FEATURE_TOOL_SPREAD_MEAN_DC:
	case FEATURE_TOOL_SPREAD_P95_DC:
	case FEATURE_TOOL_SPREAD_OF_MEANS_DC:
	case FEATURE_TOOL_SWING_DC:
		return true;
	default: /* of an int: the features are no enum of their own */
		return false;
	}
}

void
judgement_limits(
    const struct limit_settings *limit, int feature, double *lower, double *upper)
{
	*lower = limit ? feature_from_si(feature, limit->lower_si) : NAN;
	*upper = limit ? feature_from_si(feature, limit->upper_si) : NAN;
}

static void
judge(const struct population *population, int feature,
    const struct limit_settings *limit, double *values, bool *breaks,
    struct judged *judged)
{
	const struct series series = {
	    .values = values,
	    .breaks = breaks,
	    .count = population->complete.count,
	};

	population_series(population, feature, values, breaks);
	judged->feature = feature;
	judgement_limits(limit, feature, &judged->lower, &judged->upper);
	judged->c = capability_of(&series, judged->lower, judged->upper);
}

static void
judge_all(struct judgement *judgement, const struct settings *settings,
    const struct population *population, double *values, bool *breaks)
{
	int recipe = population_recipe(population->recipe);
	const char *tool = population->tool;

	for (int id = 0; id < FEATURE_COUNT; id++) {
		const struct limit_settings *limit =
		    settings_limit(settings, id, recipe, tool);
		if (limit)
			judge(population, id, limit, values, breaks,
			    &judgement->limited[judgement->limited_count++]);
	}
	for (size_t i = 0; i < JUDGEMENT_USUAL; i++) {
		struct judged *judged = &judgement->usual[judgement->usual_count];
		if (settings_limit(settings, usual_features[i], recipe, tool))
			continue;
		judge(population, usual_features[i], NULL, values, breaks, judged);
		judgement->usual_count += judged->c.n > 0;
	}
}

void
judgement_features(
    const struct settings *settings, struct population_features *features)
{
	features->count = 0;
	for (size_t i = 0; i < settings->limit_count; i++)
		population_features_add(features, settings->limits[i].feature);
	for (size_t i = 0; i < JUDGEMENT_USUAL; i++)
		population_features_add(features, usual_features[i]);
}

struct judgement *
judgement_new(const struct settings *settings, const struct population *population)
{
	struct judgement *judgement = calloc(1, sizeof *judgement);
	double *values = calloc(population->complete.count + 1, sizeof *values);
	bool *breaks = calloc(population->complete.count + 1, sizeof *breaks);

	if (judgement && values && breaks) {
		judge_all(judgement, settings, population, values, breaks);
	} else {
		free(judgement);
		judgement = NULL;
	}
	free(values);
	free(breaks);
	return judgement;
}
