/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A characteristic: its shots in the order of time with specification and control limits,
 * changes marked, and beside them on the same vertical axis how the values are distributed,
 * with the curve that was fitted.  Readable at 20, at 400 and (as columns from lowest to
 * highest) at any number of shots, in print without colour and by the colour-blind.  From 40
 * values on the median of the shots around each shows a drift through the scatter.  Limits
 * that lie far off, and a few values that do, are told of at the edge of the scale.
 *
 * Values are in the unit that is shown; arrays and strings are lent for the call.
 */
#ifndef CLI_PICTURE_RUN_PICTURE_H
#define CLI_PICTURE_RUN_PICTURE_H

#include "cli/picture/picture.h"

enum run_flag { /* of a point; bits */
	RUN_OUTSIDE =
	    1, /* a specification limit; those beyond lower, upper are anyhow */
	RUN_SIGNAL = 2, /* a pattern points at it */
};

struct run_mark { /* stands before shot `at`; several in the order of `at` */
	size_t at;
	const char *label; /* "lot A-0412", "note: window cleaned" */
	bool strong;       /* a change of what runs, not a note */
};

struct run_tick { /* of the axis of time, under shot `at` */
	size_t at;
	const char *label; /* "06:00" */
};

struct run_picture {
	const char *heading; /* "exit top" */
	const char *noun;    /* what one value is of; NULL: "shot" */
	const char *y_label; /* "exit_top_c, F" */
	const char *verdict; /* one line under the heading */
	size_t count;
	const double *values;        /* NAN: absent */
	const bool *breaks;          /* before shot i something was left out */
	const unsigned char *flags;  /* RUN_ bits; NULL: none */
	double lower, upper, target; /* NAN: none */
	double control_low, centre, control_high; /* NAN: none */
	const struct run_mark *marks;
	size_t mark_count;
	const struct run_tick *ticks;
	size_t tick_count;
	/* The fitted curve: density over values, in parts of 1 a unit; NULL: none fits. */
	const double *curve_at, *curve_density;
	size_t curve_count;
	const char *curve_name; /* "normal", "half-normal" */
};

/* "shot", or what the values are of. */
const char *run_picture_noun(const struct run_picture *what);

/* `name`, `title` and `description` are lent. */
struct picture run_picture_make(const struct run_picture *what, const char *name,
    const char *title, const char *description);

#endif
