/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/tool_plot.h"

#include <math.h>
#include <stdlib.h>

#include "cli/picture/glyph.h"
#include "cli/picture/palette.h"

#define CROWDED \
	0.8 /* a shot that has less room than this is drawn with its neighbours */

size_t
tool_plot_column(const struct tool_picture *what, double width)
{
	if (what->count == 0 || width / (double)what->count >= CROWDED)
		return 1;
	return (size_t)ceil((double)what->count / width);
}

bool
tool_plot_has(const struct tool_picture *what, size_t i)
{
	return isfinite(what->coldest[i]) && isfinite(what->hottest[i]);
}

struct canvas_pen
tool_plot_pen(int spread)
{
	static const enum canvas_dash dashes[TOOL_SPREADS] = {
	    DASH_SOLID, DASH_LONG, DASH_SHORT};

	return (struct canvas_pen){palette_line[spread], 1.4, dashes[spread]};
}

enum kind { LEAST, MEAN, MOST };

/* Of those in a column that are there; NAN when none is. */
static double
reduce(const double *values, size_t from, size_t to, enum kind kind)
{
	double least = INFINITY, most = -INFINITY, sum = 0;
	size_t n = 0;

	for (size_t i = from; i < to; i++) {
		if (!isfinite(values[i]))
			continue;
		least = fmin(least, values[i]);
		most = fmax(most, values[i]);
		sum += values[i];
		n++;
	}
	if (n == 0)
		return NAN;
	switch (kind) {
	case LEAST:
		return least;
	case MEAN:
		return sum / (double)n;
	case MOST:
		return most;
	}
	return NAN;
}

/* One place for each column, NAN where there is no value. */
struct reduced {
	double *values;
	size_t count;
};

static struct reduced
reduce_all(
    const struct tool_picture *what, const double *values, double width, enum kind kind)
{
	size_t column = tool_plot_column(what, width);
	struct reduced reduced = {.count = (what->count + column - 1) / column};

	reduced.values =
	    calloc(reduced.count ? reduced.count : 1, sizeof *reduced.values);
	for (size_t i = 0; reduced.values && i < reduced.count; i++) {
		size_t to = (i + 1) * column;
		reduced.values[i] = reduce(
		    values, i * column, to < what->count ? to : what->count, kind);
	}
	return reduced;
}

/* A value far off the scale is drawn just outside of it, where the frame cuts it. */
static struct canvas_point
place(const struct axes *axes, size_t i, size_t count, double value)
{
	double range = axes->y.high - axes->y.low;
	double x = ((double)i + 0.5) / (double)count * axes->x.high;

	return axes_point(
	    axes, x, fmin(fmax(value, axes->y.low - range), axes->y.high + range));
}

/* Joined where columns beside each other have values; one alone is a short stroke. */
static void
put_line(struct canvas *canvas, const struct axes *axes, const struct reduced *reduced,
    const struct canvas_pen *pen)
{
	struct canvas_point *points =
	    calloc(reduced->count ? reduced->count : 1, sizeof *points);
	size_t length = 0;

	if (!points || !reduced->values) {
		canvas_lose(canvas);
		free(points);
		return;
	}
	for (size_t i = 0; i <= reduced->count; i++) {
		if (i < reduced->count && !isnan(reduced->values[i])) {
			points[length++] =
			    place(axes, i, reduced->count, reduced->values[i]);
			continue;
		}
		if (length == 1) {
			struct canvas_point at = points[0];
			canvas_line(canvas, (struct canvas_point){at.x - 2, at.y},
			    (struct canvas_point){at.x + 2, at.y}, pen);
		}
		canvas_polyline(canvas, points, length, pen);
		length = 0;
	}
	free(points);
}

static void
put_stretch(struct canvas *canvas, const struct axes *axes, const struct reduced *low,
    const struct reduced *high, size_t from, size_t to)
{
	size_t count = to - from;
	struct canvas_point *points = calloc(2 * count + 2, sizeof *points);

	if (!points) {
		canvas_lose(canvas);
		return;
	}
	for (size_t i = 0; i < count; i++) {
		points[i] = place(axes, from + i, high->count, high->values[from + i]);
		points[2 * count - 1 - i] =
		    place(axes, from + i, low->count, low->values[from + i]);
	}
	if (count == 1) { /* one alone has no width of its own */
		points[3] = (struct canvas_point){points[1].x - 2, points[1].y};
		points[2] = (struct canvas_point){points[1].x + 2, points[1].y};
		points[1] = (struct canvas_point){points[0].x + 2, points[0].y};
		points[0].x -= 2;
	}
	canvas_polygon(canvas, points, count == 1 ? 4 : 2 * count, PALETTE_JOIN);
	free(points);
}

static void
put_stretches(struct canvas *canvas, const struct axes *axes, const struct reduced *low,
    const struct reduced *high)
{
	size_t from = 0;

	for (size_t i = 0; i <= low->count; i++) {
		if (i < low->count && !isnan(low->values[i]) && !isnan(high->values[i]))
			continue;
		if (i > from)
			put_stretch(canvas, axes, low, high, from, i);
		from = i + 1;
	}
}

static void
put_absent(
    struct canvas *canvas, const struct axes *axes, const struct tool_picture *what)
{
	size_t column = tool_plot_column(what, axes->box.right - axes->box.left);
	size_t last = 0;

	for (size_t i = 0; i < what->count; i++) {
		if (tool_plot_has(what, i) || (last > 0 && i / column + 1 == last))
			continue;
		last = i / column + 1;
		struct canvas_point at = axes_point(axes, (double)i + 0.5, axes->y.low);
		glyph_put(canvas, GLYPH_CROSS, (struct canvas_point){at.x, at.y - 4}, 3,
		    PALETTE_FAINT);
	}
}

void
tool_plot_put_band(
    struct canvas *canvas, const struct axes *axes, const struct tool_picture *what)
{
	static const struct canvas_pen pen = {PALETTE_SLOW, 1.5, DASH_SOLID};
	double width = axes->box.right - axes->box.left;
	struct reduced low = reduce_all(what, what->coldest, width, LEAST);
	struct reduced mean = reduce_all(what, what->mean, width, MEAN);
	struct reduced high = reduce_all(what, what->hottest, width, MOST);

	canvas_clip(canvas, axes->box);
	if (low.values && high.values)
		put_stretches(canvas, axes, &low, &high);
	else
		canvas_lose(canvas);
	put_line(canvas, axes, &mean, &pen);
	canvas_unclip(canvas);
	put_absent(canvas, axes, what);
	free(low.values);
	free(mean.values);
	free(high.values);
}

void
tool_plot_put_spread(struct canvas *canvas, const struct axes *axes,
    const struct tool_picture *what, int spread)
{
	struct canvas_pen pen = tool_plot_pen(spread);
	double width = axes->box.right - axes->box.left;
	struct reduced most = reduce_all(what, what->spread[spread], width, MOST);

	canvas_clip(canvas, axes->box);
	put_line(canvas, axes, &most, &pen);
	canvas_unclip(canvas);
	free(most.values);
}
