/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A population, judged: its features against the limits that the set-up has for its
 * recipe and tool, and the usual ones without limits.
 */
#ifndef CLI_POPULATION_JUDGEMENT_H
#define CLI_POPULATION_JUDGEMENT_H

#include "cli/population/population.h"
#include "cli/stats/capability.h"
#include "conf/settings.h"

enum { JUDGEMENT_USUAL = 20 };

/* A feature, judged. */
struct judged {
	int feature;
	double lower, upper; /* in the unit of the feature's name; NAN: none */
	struct capability c;
};

struct judgement {
	struct judged limited[FEATURE_COUNT], usual[JUDGEMENT_USUAL];
	size_t limited_count, usual_count;
};

/* The features that a judgement under these settings is made of. */
void judgement_features(
    const struct settings *settings, struct population_features *features);

/* NULL when memory is short.  The caller frees.  The population has those features. */
struct judgement *judgement_new(
    const struct settings *settings, const struct population *population);

/* The limits in the unit of the feature's name; NAN where there is none, or no limit. */
void judgement_limits(
    const struct limit_settings *limit, int feature, double *lower, double *upper);

/* A largest less a smallest value: never below zero, and skewed near it. */
bool judgement_bounded_at_zero(int feature);

#endif
