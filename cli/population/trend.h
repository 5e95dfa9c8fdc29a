/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Populations of a long time, parted by shift: what a characteristic was shift by shift, and
 * whether it moved over that time.  A shot belongs to the shift in which it was formed; a
 * point is of one shift and one lot, since a capability is of one lot.  One thread.
 */
#ifndef CLI_POPULATION_TREND_H
#define CLI_POPULATION_TREND_H

#include "cli/population/population.h"
#include "cli/stats/slope.h"
#include "cli/stats/step.h"
#include "cli/stats/study.h"
#include "conf/settings.h"
#include "daemon/base/calendar.h"

struct error;

struct trend_shift {
	struct population
	    shots; /* complete ones of this shift; lent by its population */
	char shift[SETTINGS_NAME]; /* "": outside of all shifts, the day is meant */
	struct calendar_date date; /* on which it begins */
	struct wall from, to;      /* of the shift or the day */
};

/* One recipe and tool. */
struct trend_kind {
	const char *recipe, *tool;  /* lent by the populations */
	struct trend_shift *points; /* by their first shots */
	size_t count;
};

struct trend {
	struct trend_kind *kinds; /* by their first shots */
	size_t count;
};

/* Of populations that are lent meanwhile.  0, or ERROR_MEMORY; release in either case. */
int trend_make(struct trend *trend, const struct settings *settings,
    const struct populations *populations, struct error *error);
void trend_release(struct trend *trend);

/* A kind with its points of the shift of that name alone (NULL: all).  free(chosen->points);
 * false when memory is short. */
bool trend_kind_choose(
    struct trend_kind *chosen, const struct trend_kind *kind, const char *shift);

/* When a point's shots were made: the middle of the first and the last. */
struct wall trend_middle(const struct trend_shift *point);

/* --- one characteristic over that time ------------------------------------------------- */

enum {
	TREND_LEAST = 8, /* values that a point's mean counts from */
};

struct trend_course {
	int feature;
	double lower, upper;    /* in the unit of the feature's name; NAN: none */
	struct study **studies; /* of each point */
	size_t count;
	/* A week.  Of the means those of TREND_LEAST values and more; of Ppk (or the index
	 * by percentiles: study_shown) those that may be quoted and have an interval. */
	struct slope mean, ppk;
	struct step
	    mean_step; /* of the points of `mean`, whose uncertainty goes by their
	                          numbers and what most of them scatter */
	double weeks;  /* from the first point to the last */
};

/* `limit` NULL: it has none.  NULL when memory is short; the caller frees. */
struct trend_course *trend_course_new(
    const struct trend_kind *kind, int feature, const struct limit_settings *limit);
void trend_course_free(struct trend_course *course);

/* Whether the interval of a slope leaves out 0: -1 it falls, 1 it rises, 0 neither is shown
 * (or there is no slope). */
int trend_direction(const struct slope *slope);

/* What the mean did: of a line and a step that are both shown, whichever explains it better. */
enum trend_move {
	TREND_MOVE_UNKNOWN, /* too few points */
	TREND_MOVE_NONE,    /* neither is shown, which is not that it held */
	TREND_MOVE_LINE,
	TREND_MOVE_STEP,
};
enum trend_move trend_move(const struct trend_course *course);

/* Of points first ... end - 1. */
struct trend_tally {
	size_t points, capable, not_capable; /* the rest is not established */
	size_t shots, outside;               /* values, and those beyond a limit */
};
struct trend_tally trend_tally(
    const struct trend_course *course, size_t first, size_t end);

#endif
