/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the values are by and large: the median of the shots around each, so that a drift is
 * seen through the scatter and a wild value moves nothing.  It does not reach across a change. */
#include "cli/picture/run_plot.h"

#include <math.h>
#include <stdlib.h>

#include "cli/picture/palette.h"
#include "cli/stats/sort.h"

enum {
	SHOTS_LEAST = 40,
	PARTS = 15,
	WINDOW_LEAST = 9,
	WINDOW_MOST = 301,
	PLACES = 300
};

size_t
run_median_window(const struct run_picture *what)
{
	size_t there = 0;

	for (size_t i = 0; i < what->count; i++)
		there += isnan(what->values[i]) ? 0 : 1;
	if (there < SHOTS_LEAST)
		return 0;
	size_t window = what->count / PARTS;
	window = window < WINDOW_LEAST ? WINDOW_LEAST : window;
	window = window > WINDOW_MOST ? WINDOW_MOST : window;
	return window | 1;
}

/* Of values[from ... to); NAN when under half of them are there. */
static double
median(const double *values, size_t from, size_t to)
{
	double sorted[WINDOW_MOST];
	size_t n = 0;

	for (size_t i = from; i < to && n < WINDOW_MOST; i++)
		if (!isnan(values[i]))
			sorted[n++] = values[i];
	if (n == 0 || 2 * n < to - from)
		return NAN;
	sort_values(sorted, n);
	return n % 2 ? sorted[n / 2] : sorted[n / 2 - 1] / 2 + sorted[n / 2] / 2;
}

/* Between two changes; whole windows alone, so that its ends are not made of fewer shots than
 * the key says. */
static void
put_stretch(struct canvas *canvas, const struct axes *axes,
    const struct run_picture *what, size_t window, size_t from, size_t to)
{
	static const struct canvas_pen pen = {PALETTE_SLOW, 1.8, DASH_SOLID};
	size_t half = window / 2, length = 0;
	struct canvas_point points[PLACES + 2];
	size_t step = what->count / PLACES + 1;

	if (to - from < window)
		return;
	for (size_t i = from + half; i + half < to; i += step) {
		double at = median(what->values, i - half, i + half + 1);
		bool shown = at >= axes->y.low && at <= axes->y.high;
		if (shown)
			points[length++] = axes_point(axes, (double)i + 0.5, at);
		if (!shown || length == PLACES + 2) {
			canvas_polyline(canvas, points, length, &pen);
			length = 0;
		}
	}
	canvas_polyline(canvas, points, length, &pen);
}

void
run_median_put(
    struct canvas *canvas, const struct axes *axes, const struct run_picture *what)
{
	size_t window = run_median_window(what), from = 0;

	if (window == 0)
		return;
	for (size_t i = 0; i < what->mark_count; i++) {
		const struct run_mark *mark = &what->marks[i];
		if (!mark->strong || mark->at <= from || mark->at >= what->count)
			continue;
		put_stretch(canvas, axes, what, window, from, mark->at);
		from = mark->at;
	}
	put_stretch(canvas, axes, what, window, from, what->count);
}
