/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How heat went into a sheet: on the left the temperature through the thickness at some
 * moments, on the right both faces and the core over time.  Readable at 800 x 500 px.
 *
 * All temperatures are in the unit that is shown, finite unless said otherwise; arrays
 * and strings are lent for the call.
 */
#ifndef CLI_PICTURE_SOAK_PICTURE_H
#define CLI_PICTURE_SOAK_PICTURE_H

#include "cli/picture/picture.h"

struct soak_picture {
	const char *title;   /* "ABS, 6.35 mm" */
	const char *summary; /* one line: the core and its band */
	const char *caution; /* one line */
	const char *unit;    /* "C", "F" */
	double thickness_mm;

	/* Moments in order, each with temperatures at even distances from the top face
	 * to the bottom face. */
	size_t moment_count, node_count;
	const double *moment_s;
	const double *profile; /* moment_count * node_count */

	/* The course, ascending in time; of a face that nobody measured NULL. */
	size_t count;
	const double *s, *top, *core, *bottom;
	double heat_end_s;              /* later moments are on the way to the form */
	double core_low, core_high;     /* at the end of the course; NAN: no band */
	double window_low, window_high; /* forming window of the core; NAN: not known */
};

/* `what` and `name` are lent for as long as the picture is used. */
struct picture soak_picture_make(const struct soak_picture *what, const char *name);

#endif
