/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A frame with two scales, and values drawn within it: round ticks, labels with their
 * units, what leaves the frame is cut.  Values are the reader's (already in the unit
 * that is shown) and finite.
 */
#ifndef CLI_PICTURE_AXES_H
#define CLI_PICTURE_AXES_H

#include "cli/picture/canvas.h"

struct axis {
	double low, high; /* low < high */
	double step;  /* from one tick to the next: 1, 2 or 5 times a power of ten */
	int digits;   /* of the ticks' numbers after the point */
	double first; /* tick */
};

struct axes {
	struct canvas_box box; /* the frame */
	struct axis x, y;
	const char *x_label, *y_label; /* "time, s" */
};

/* About so many ticks from low to high; a range of nothing is widened.  `wide` moves both
 * ends out to the next tick, else they stay. */
struct axis axis_make(double low, double high, int ticks, bool wide);
/* The i-th tick, or NAN past the last. */
double axis_tick(const struct axis *axis, int i);

/* In this order: shaded bands, light lines at the ticks, curves, frame with numbers and
 * labels.  Bands and curves are cut by the frame. */
void axes_band(struct canvas *canvas, const struct axes *axes, double y_low,
    double y_high, uint32_t rgb);
void axes_grid(struct canvas *canvas, const struct axes *axes);
void axes_curve(struct canvas *canvas, const struct axes *axes, const double *x,
    const double *y, size_t count, const struct canvas_pen *pen);
void axes_frame(struct canvas *canvas, const struct axes *axes);

struct canvas_point axes_point(const struct axes *axes, double x, double y);

#endif
