/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * An index or a mean shift by shift with its interval; what is withheld is a gap with a mark of
 * its own; what was not stable is hollow; lots, tools and calibrations marked.  Limits that lie
 * far off are told of at the edge of the scale.
 */
#ifndef CLI_PICTURE_TREND_PICTURE_H
#define CLI_PICTURE_TREND_PICTURE_H

#include "cli/picture/run_picture.h"

struct trend_point {
	double value, low, high; /* NAN: withheld */
	bool stable;
	bool withheld;
};

struct trend_picture {
	const char *heading, *y_label; /* "Ppk" */
	const struct trend_point *points;
	size_t count;
	double required;              /* a line; NAN: none */
	double lower, upper;          /* limits of the values; NAN: none */
	const struct run_mark *marks; /* before point `at` */
	size_t mark_count;
	const struct run_tick *ticks;
	size_t tick_count;
	/* Of each point, under it where all have room: "early"; the ticks then stand below.
	 * NULL: none. */
	const char *const *names;
};

struct picture trend_picture_make(const struct trend_picture *what, const char *name,
    const char *title, const char *description);

#endif
