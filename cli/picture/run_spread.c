/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the values of a run picture are distributed, lying on its side. */
#include "cli/picture/run_plot.h"

#include <math.h>
#include <stdlib.h>

#include "cli/picture/histogram.h"
#include "cli/picture/lettering.h"
#include "cli/picture/palette.h"

#define END 3.0 /* between the longest and the edge */

static void
put_bars(
    struct canvas *canvas, const struct axes *axes, const struct histogram *histogram)
{
	for (size_t i = 0; i < histogram->bins; i++) {
		double low = histogram->low + (double)i * histogram->width;
		struct canvas_point foot = axes_point(axes, 0, fmax(low, axes->y.low));
		struct canvas_point top = axes_point(axes, (double)histogram->counts[i],
		    fmin(low + histogram->width, axes->y.high));
		double gap = foot.y - top.y > 3 ? 0.5 : 0;
		if (histogram->counts[i] > 0 && foot.y > top.y)
			canvas_fill(canvas,
			    (struct canvas_box){
				foot.x, top.y + gap, top.x, foot.y - gap},
			    PALETTE_BAR);
	}
}

/* Of density in shots: what the curve would give a bin. */
static double
curve_shots(const struct run_picture *what, const struct histogram *histogram, size_t i)
{
	return what->curve_density[i] * (double)histogram->n * histogram->width;
}

/* A density without bound (at zero, of some distributions) goes to the edge. */
static void
put_curve(struct canvas *canvas, const struct axes *axes,
    const struct run_picture *what, const struct histogram *histogram)
{
	static const struct canvas_pen pen = {PALETTE_SLOW, 1.4, DASH_SOLID};
	struct canvas_point *points = calloc(what->curve_count, sizeof *points);
	size_t length = 0;

	if (!points) {
		canvas_lose(canvas);
		return;
	}
	for (size_t i = 0; i < what->curve_count; i++) {
		double shots = curve_shots(what, histogram, i), at = what->curve_at[i];
		if (at >= axes->y.low && at <= axes->y.high && shots >= 0)
			points[length++] =
			    axes_point(axes, fmin(shots, axes->x.high), at);
	}
	canvas_polyline(canvas, points, length, &pen);
	free(points);
}

static void
put_words(struct canvas *canvas, const struct canvas_box *box, size_t most)
{
	const struct canvas_letters letters = {
	    .size = LETTERING_SMALL, .rgb = PALETTE_FAINT};
	char words[40];

	snprintf(words, sizeof words, "longest bar: %zu", most);
	canvas_text(canvas,
	    (struct canvas_point){box->left, box->bottom + 4 + LETTERING_SMALL},
	    &letters, words);
}

void
run_spread_put(struct canvas *canvas, const struct canvas_box *box,
    const struct axis *y, const struct run_picture *what)
{
	static const struct canvas_pen foot = {PALETTE_FRAME, 0.8, DASH_SOLID};
	const struct histogram_asked asked = {.values = what->values,
	    .count = what->count,
	    .low = y->low,
	    .high = y->high,
	    .lower = what->lower,
	    .upper = what->upper};
	struct axes axes = {.box = *box, .y = *y};
	struct histogram histogram;
	size_t curve_count = what->curve_at ? what->curve_count : 0;

	if (!histogram_make(&asked, &histogram))
		canvas_lose(canvas);
	double most = (double)histogram.most;
	for (size_t i = 0; i < curve_count; i++) {
		double shots = curve_shots(what, &histogram, i);
		if (isfinite(shots) && shots < 2 * (double)histogram.most)
			most = fmax(most, shots);
	}
	if (histogram.bins > 0) {
		axes.x.high = most * (1 + END / (box->right - box->left));
		put_bars(canvas, &axes, &histogram);
		if (curve_count > 0)
			put_curve(canvas, &axes, what, &histogram);
		put_words(canvas, box, histogram.most);
	}
	canvas_line(canvas, (struct canvas_point){box->left, box->top},
	    (struct canvas_point){box->left, box->bottom}, &foot);
}
