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

struct study *
judgement_study(const struct judgement_asked *asked)
{
	return study_new(&(struct study_asked){
	    .series = asked->series,
	    .lower = asked->lower,
	    .upper = asked->upper,
	    .target = asked->target,
	    .zero_bounded =
		judgement_bounded_at_zero(asked->feature) && isnan(asked->lower),
	    .method = STUDY_INDIVIDUALS,
	    .centre = NAN,
	    .sigma = NAN,
	    .rules = asked->rules,
	    .required = NAN,
	});
}

/* What is judged: one population, or else a run. */
struct subject {
	const struct settings *settings;
	const struct population *population;
	const struct run *run;
	size_t count;
	double *values; /* room for one series */
	bool *breaks;
	bool failed; /* memory was short */
};

static struct series
series_of(struct subject *subject, int feature)
{
	if (subject->run)
		run_series(
		    subject->run, feature, true, subject->values, subject->breaks);
	else
		population_series(
		    subject->population, feature, subject->values, subject->breaks);
	return (struct series){subject->values, subject->breaks, subject->count};
}

static void
judge(struct subject *subject, int feature, const struct limit_settings *limit,
    struct judged *judged)
{
	const struct series series = series_of(subject, feature);

	judged->feature = feature;
	judgement_limits(limit, feature, &judged->lower, &judged->upper);
	judged->target = limit ? feature_from_si(feature, limit->target_si) : NAN;
	if (!limit) {
		judged->c = capability_of(&series, NAN, NAN);
		return;
	}
	judged->study = judgement_study(&(struct judgement_asked){series, feature,
	    judged->lower, judged->upper, judged->target, RULES_USUAL});
	if (!judged->study) {
		subject->failed = true;
		return;
	}
	judged->c = judged->study->c;
	judged->polled = feature_get(feature)->dimension == DIMENSION_TIME &&
	                 judged->c.sd <= subject->population->uncertainty_s;
}

static void
judge_all(struct judgement *judgement, struct subject *subject)
{
	const struct settings *settings = subject->settings;
	const struct population *population = subject->population;
	int recipe = population_recipe(population->recipe);
	const char *tool = population->tool;

	for (int id = 0; id < FEATURE_COUNT; id++) {
		const struct limit_settings *limit =
		    settings_limit(settings, id, recipe, tool);
		if (limit)
			judge(subject, id, limit,
			    &judgement->limited[judgement->limited_count++]);
	}
	for (size_t i = 0; i < JUDGEMENT_USUAL && !subject->run; i++) {
		struct judged *judged = &judgement->usual[judgement->usual_count];
		if (settings_limit(settings, usual_features[i], recipe, tool))
			continue;
		judge(subject, usual_features[i], NULL, judged);
		judgement->usual_count += judged->c.n > 0;
	}
}

void
judgement_features(
    const struct settings *settings, struct population_features *features)
{
	for (size_t i = 0; i < settings->limit_count; i++)
		population_features_add(features, settings->limits[i].feature);
	for (size_t i = 0; i < JUDGEMENT_USUAL; i++)
		population_features_add(features, usual_features[i]);
}

static struct judgement *
make(struct subject *subject)
{
	struct judgement *judgement = calloc(1, sizeof *judgement);

	subject->values = calloc(subject->count + 1, sizeof *subject->values);
	subject->breaks = calloc(subject->count + 1, sizeof *subject->breaks);
	subject->failed = !judgement || !subject->values || !subject->breaks;
	if (!subject->failed)
		judge_all(judgement, subject);
	if (subject->failed) {
		judgement_free(judgement);
		judgement = NULL;
	}
	free(subject->values);
	free(subject->breaks);
	return judgement;
}

struct judgement *
judgement_new(const struct settings *settings, const struct population *population)
{
	struct subject subject = {.settings = settings,
	    .population = population,
	    .count = population->complete.count};

	return make(&subject);
}

struct judgement *
judgement_of_run(const struct settings *settings, const struct run *run)
{
	struct subject subject = {.settings = settings,
	    .population = run->shots[0].population,
	    .run = run,
	    .count = run->count};

	return make(&subject);
}

static size_t
keep(struct judged *list, size_t count, int feature)
{
	size_t kept = 0;

	for (size_t i = 0; i < count; i++) {
		if (list[i].feature == feature)
			list[kept++] = list[i];
		else
			study_free(list[i].study);
	}
	return kept;
}

void
judgement_keep(struct judgement *judgement, int feature)
{
	judgement->limited_count =
	    keep(judgement->limited, judgement->limited_count, feature);
	judgement->usual_count =
	    keep(judgement->usual, judgement->usual_count, feature);
}

void
judgement_free(struct judgement *judgement)
{
	for (size_t i = 0; judgement && i < judgement->limited_count; i++)
		study_free(judgement->limited[i].study);
	free(judgement);
}
