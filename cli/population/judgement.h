/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A population, judged: its features against the limits that the set-up has for its
 * recipe and tool, and the usual ones without limits.
 */
#ifndef CLI_POPULATION_JUDGEMENT_H
#define CLI_POPULATION_JUDGEMENT_H

#include "cli/population/population.h"
#include "cli/population/runs.h"
#include "cli/stats/study.h"
#include "conf/settings.h"

enum { JUDGEMENT_USUAL = 20 };

/* A feature, judged. */
struct judged {
	int feature;
	double lower, upper, target; /* in the unit of the feature's name; NAN: none */
	struct capability c;
	bool polled; /* a duration that scatters no more than polling leaves of it */
	struct study *study; /* of what has limits; else NULL */
};

struct judgement {
	struct judged limited[FEATURE_COUNT], usual[JUDGEMENT_USUAL];
	size_t limited_count, usual_count;
};

/* Adds the features that a judgement under these settings is made of. */
void judgement_features(
    const struct settings *settings, struct population_features *features);

/* NULL when memory is short.  The caller frees.  The population has those features. */
struct judgement *judgement_new(
    const struct settings *settings, const struct population *population);

/* The same of a run over its lots, without the usual ones: for pictures, and when something
 * began; a capability is of one lot.  No step from one lot to the next counts as scatter
 * from shot to shot. */
struct judgement *judgement_of_run(
    const struct settings *settings, const struct run *run);

/* Of this feature alone from now on. */
void judgement_keep(struct judgement *judgement, int feature);

void judgement_free(struct judgement *judgement);

/* The limits in the unit of the feature's name; NAN where there is none, or no limit. */
void judgement_limits(
    const struct limit_settings *limit, int feature, double *lower, double *upper);

/* The study of single values of a feature: no rules unless some are asked for (RULE_BITs), the
 * usual required capability; bounded at zero where it is by its nature and has no lower limit.
 * Limits in the unit of the values.  NULL when memory is short; the caller frees. */
struct judgement_asked {
	struct series series;
	int feature;
	double lower, upper, target; /* NAN: none */
	unsigned rules;
};
struct study *judgement_study(const struct judgement_asked *asked);

/* A largest less a smallest value: never below zero, and skewed near it. */
bool judgement_bounded_at_zero(int feature);

#endif
