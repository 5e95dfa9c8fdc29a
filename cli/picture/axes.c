/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/axes.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

static const struct canvas_pen grid_pen = {0xdcdcdc, 0.5, DASH_SOLID};
static const struct canvas_pen frame_pen = {0x404040, 0.8, DASH_SOLID};

enum { TICK = 3, NUMBER_SIZE = 8, LABEL_SIZE = 9, TICKS_MOST = 100 };
#define INK 0x303030

/* The least of 1, 2, 5 times a power of ten that is at least `wanted`. */
static double
round_step(double wanted)
{
	static const double leads[] = {1, 2, 5, 10};
	double power = pow(10, floor(log10(wanted)));

	for (size_t i = 0; i < sizeof leads / sizeof leads[0]; i++)
		if (leads[i] * power >= wanted * (1 - 1e-9))
			return leads[i] * power;
	return 10 * power;
}

struct axis
axis_make(double low, double high, int ticks, bool wide)
{
	struct axis axis;

	assert(isfinite(low) && isfinite(high) && ticks > 0);
	if (high - low <= 1e-12 * fmax(fabs(low), fabs(high))) {
		double middle = (low + high) / 2;
		double half = fabs(middle) > 0 ? 0.01 * fabs(middle) : 1;
		low = middle - half;
		high = middle + half;
	}
	axis.step = round_step((high - low) / ticks);
	if (wide) {
		low = floor(low / axis.step + 1e-9) * axis.step;
		high = ceil(high / axis.step - 1e-9) * axis.step;
	}
	axis.low = low;
	axis.high = high;
	axis.first = ceil(low / axis.step - 1e-9) * axis.step;
	axis.digits = axis.step >= 1 ? 0 : (int)ceil(-log10(axis.step) - 1e-9);
	return axis;
}

static double
ratio(const struct axis *axis, double value)
{
	return (value - axis->low) / (axis->high - axis->low);
}

struct canvas_point
axes_point(const struct axes *axes, double x, double y)
{
	const struct canvas_box *box = &axes->box;

	return (struct canvas_point){
	    box->left + ratio(&axes->x, x) * (box->right - box->left),
	    box->bottom - ratio(&axes->y, y) * (box->bottom - box->top)};
}

double
axis_tick(const struct axis *axis, int i)
{
	double at = axis->first + i * axis->step;

	return i < TICKS_MOST && at <= axis->high + 1e-6 * axis->step ? at : NAN;
}

void
axes_grid(struct canvas *canvas, const struct axes *axes)
{
	const struct canvas_box *box = &axes->box;
	double at;

	for (int i = 0; !isnan(at = axis_tick(&axes->x, i)); i++) {
		double x = axes_point(axes, at, axes->y.low).x;
		canvas_line(canvas, (struct canvas_point){x, box->top},
		    (struct canvas_point){x, box->bottom}, &grid_pen);
	}
	for (int i = 0; !isnan(at = axis_tick(&axes->y, i)); i++) {
		double y = axes_point(axes, axes->x.low, at).y;
		canvas_line(canvas, (struct canvas_point){box->left, y},
		    (struct canvas_point){box->right, y}, &grid_pen);
	}
}

static void
put_number(struct canvas *canvas, struct canvas_point at, enum canvas_anchor anchor,
    double value, int digits)
{
	const struct canvas_letters letters = {
	    .size = NUMBER_SIZE, .rgb = INK, .anchor = anchor};
	char number[40];

	if (fabs(value) < 1e-9)
		value = 0; /* no "-0" */
	snprintf(number, sizeof number, "%.*f", digits, value);
	canvas_text(canvas, at, &letters, number);
}

void
axes_frame(struct canvas *canvas, const struct axes *axes)
{
	const struct canvas_box *box = &axes->box;
	const struct canvas_point corners[] = {{box->left, box->top},
	    {box->left, box->bottom}, {box->right, box->bottom}, {box->right, box->top},
	    {box->left, box->top}};
	struct canvas_letters label = {
	    .size = LABEL_SIZE, .rgb = INK, .anchor = ANCHOR_MIDDLE};
	double at;

	canvas_polyline(canvas, corners, 5, &frame_pen);
	for (int i = 0; !isnan(at = axis_tick(&axes->x, i)); i++) {
		struct canvas_point foot = axes_point(axes, at, axes->y.low);
		canvas_line(canvas, foot, (struct canvas_point){foot.x, foot.y + TICK},
		    &frame_pen);
		foot.y += TICK + NUMBER_SIZE;
		put_number(canvas, foot, ANCHOR_MIDDLE, at, axes->x.digits);
	}
	for (int i = 0; !isnan(at = axis_tick(&axes->y, i)); i++) {
		struct canvas_point foot = axes_point(axes, axes->x.low, at);
		canvas_line(canvas, foot, (struct canvas_point){foot.x - TICK, foot.y},
		    &frame_pen);
		foot.x -= TICK + 2;
		foot.y += NUMBER_SIZE * 0.36;
		put_number(canvas, foot, ANCHOR_END, at, axes->y.digits);
	}
	canvas_text(canvas,
	    (struct canvas_point){
		(box->left + box->right) / 2, box->bottom + TICK + 22},
	    &label, axes->x_label);
	label.upwards = true;
	canvas_text(canvas,
	    (struct canvas_point){box->left - 28, (box->top + box->bottom) / 2}, &label,
	    axes->y_label);
}

void
axes_curve(struct canvas *canvas, const struct axes *axes, const double *x,
    const double *y, size_t count, const struct canvas_pen *pen)
{
	struct canvas_point *points = calloc(count ? count : 1, sizeof *points);

	if (!points) {
		canvas_lose(canvas);
		return;
	}
	for (size_t i = 0; i < count; i++)
		points[i] = axes_point(axes, x[i], y[i]);
	canvas_clip(canvas, axes->box);
	canvas_polyline(canvas, points, count, pen);
	canvas_unclip(canvas);
	free(points);
}

void
axes_band(struct canvas *canvas, const struct axes *axes, double y_low, double y_high,
    uint32_t rgb)
{
	struct canvas_box band = axes->box;
	double top = axes_point(axes, axes->x.low, y_high).y;
	double bottom = axes_point(axes, axes->x.low, y_low).y;

	band.top = fmin(fmax(top, axes->box.top), axes->box.bottom);
	band.bottom = fmin(fmax(bottom, axes->box.top), axes->box.bottom);
	if (band.top < band.bottom)
		canvas_fill(canvas, band, rgb);
}
