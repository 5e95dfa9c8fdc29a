/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All characteristics of one recipe and tool over a long time.  One thread. */
#ifndef CLI_POPULATION_TREND_COURSES_H
#define CLI_POPULATION_TREND_COURSES_H

#include "cli/population/trend.h"

struct trend_courses {
	const char *line;          /* lent */
	const struct trend *trend; /* lent: all kinds of the line, all shifts */
	struct trend_kind kind;    /* its points that are looked at */
	struct trend_course **list;
	size_t count;
};

struct trend_courses_asked {
	const struct settings *settings;
	const char *line;
	const struct trend *trend;
	size_t kind;       /* of the trend's */
	const char *shift; /* NULL: all */
	int feature;       /* -1: those with limits for this recipe and tool */
};

/* 0, or ERROR_MEMORY; release in either case.  No points: none of that shift. */
int trend_courses_make(struct trend_courses *courses,
    const struct trend_courses_asked *asked, struct error *error);
void trend_courses_release(struct trend_courses *courses);

#endif
