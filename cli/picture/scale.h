/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The vertical scale of a picture of values and their limits: the values fill it, limits that
 * lie far off, and a few values that do, are told of at its edge instead of flattening the
 * rest.  And what all such pictures write at it: numbers to the left, limits to the right.
 */
#ifndef CLI_PICTURE_SCALE_H
#define CLI_PICTURE_SCALE_H

#include "cli/picture/axes.h"

/* Values as large as this are off any scale. */
#define SCALE_HUGE 1e150

/*
 * `values` may have NAN and infinities; `near` are lines that belong to them (control limits),
 * `far` others (specification limits), each NAN where there is none.  No more than one value
 * in 25 is left off.  False when memory is short.
 */
struct scale_asked {
	const double *values;
	size_t count;
	const double *near, *far;
	size_t near_count, far_count;
};
bool scale_make(const struct scale_asked *asked, struct axis *axis);

/* Whether a value is on it. */
bool scale_holds(const struct axis *axis, double value);

/*
 * A number of the scale, or of what stands beside it, with `more` digits after the point than
 * its ticks; one that is written out in few digits (`given`: it was set, not computed) as it
 * is.  All of a scale are written alike: of very small steps and very large numbers by powers
 * of ten, "6.02e-07".
 */
enum { SCALE_NUMBER = 48 };
void scale_number(const struct axis *axis, double value, int more, bool given,
    char to[static SCALE_NUMBER]);

/* How much room the numbers of the left edge take. */
double scale_width(const struct axis *axis);
/* Light lines through the plot, numbers to the left of it. */
void scale_put(struct canvas *canvas, const struct axes *axes);

/* A line at a value, with words to its right. */
struct scale_line {
	double value;
	char words[80];
	struct canvas_pen pen;
	bool strong;  /* its words */
	double label; /* y of the words */
};
enum { SCALE_LINES = 12 };
struct scale_lines {
	struct scale_line list[SCALE_LINES];
	size_t count;
};

/* Adds "words 12.3"; nothing for NAN.  `given`: the number was set, not computed. */
void scale_lines_add(struct scale_lines *lines, const struct axis *axis, double value,
    const char *words, struct canvas_pen pen, bool given);

/* How much room the widest of the words takes. */
double scale_lines_width(const struct scale_lines *lines);

/* Across from `left` to `right`; one off the scale is an arrow at its edge. */
void scale_lines_put(struct canvas *canvas, const struct axes *axes,
    const struct scale_lines *lines, double left, double right);
/* The words, from x on, each at its line or as near as the others allow, joined to it by a
 * thin one; no wider than the sheet. */
void scale_lines_label(struct canvas *canvas, const struct axes *axes,
    struct scale_lines *lines, double from, double x);

/* The ground: the plot white, what lies beyond a limit (NAN: none) shaded. */
void scale_ground(
    struct canvas *canvas, const struct axes *axes, double lower, double upper);

#endif
