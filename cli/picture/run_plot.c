/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/run_plot.h"

#include <math.h>
#include <stdlib.h>

#include "cli/picture/palette.h"
#include "cli/picture/scale.h"

#define COLUMN 2.0   /* how wide one with many shots is */
#define CROWDED 0.55 /* a shot that has less room than this is put into a column */

/* How large those that stand out are: smaller where they crowd. */
static double
special_radius(const struct run_picture *what)
{
	return what->count > 600 ? 3 : what->count > 120 ? 3.6 : 4.4;
}

size_t
run_plot_column(const struct run_picture *what, double width)
{
	if (what->count == 0 || width / (double)what->count >= CROWDED)
		return 1;
	return (size_t)ceil((double)what->count / (width / COLUMN));
}

static double
dot_radius(const struct run_picture *what, double width)
{
	return fmin(
	    fmax(0.4 * width / (double)(what->count ? what->count : 1), 1.3), 3);
}

static bool
is_outside(const struct run_picture *what, size_t i)
{
	return (what->flags && what->flags[i] & RUN_OUTSIDE) ||
	       what->values[i] > what->upper || what->values[i] < what->lower;
}

static bool
is_signal(const struct run_picture *what, size_t i)
{
	return what->flags && what->flags[i] & RUN_SIGNAL;
}

static struct canvas_point
shot_point(const struct axes *axes, size_t i, double value)
{
	return axes_point(axes, (double)i + 0.5, value);
}

/* --- what stands for what -------------------------------------------------------------- */

struct seen {
	size_t there, absent, outside, signals, above, below;
	double highest, lowest;
};

static struct seen
look(const struct run_picture *what, const struct axis *y)
{
	struct seen seen = {.highest = -INFINITY, .lowest = INFINITY};

	for (size_t i = 0; i < what->count; i++) {
		double value = what->values[i];
		if (isnan(value)) {
			seen.absent++;
			continue;
		}
		seen.there++;
		seen.outside += is_outside(what, i);
		seen.signals += is_signal(what, i);
		seen.above += value > y->high;
		seen.below += value < y->low;
		seen.highest = fmax(seen.highest, value);
		seen.lowest = fmin(seen.lowest, value);
	}
	return seen;
}

static void
add_off(struct key *key, const struct axis *y, enum glyph glyph, size_t count,
    uint32_t rgb, double most)
{
	const char *reach = glyph == GLYPH_UP ? "up to" : "down to";
	char number[SCALE_NUMBER];

	scale_number(y, most, 1, true, number);
	if (count == 1)
		key_add(key, glyph, 4, rgb, "one off the scale: %s", number);
	else if (count > 1)
		key_add(key, glyph, 4, rgb, "%zu off the scale, %s %s", count, reach,
		    number);
}

void
run_plot_key(
    const struct run_picture *what, const struct axis *y, double width, struct key *key)
{
	struct seen seen = look(what, y);
	size_t column = run_plot_column(what, width);
	size_t window = run_median_window(what);
	const char *noun = run_picture_noun(what);

	if (seen.there > seen.outside && column == 1)
		key_add(key, GLYPH_DOT, 2.4, PALETTE_POINT, "a %s", noun);
	else if (column > 1 && seen.there > 0)
		key_add(key, GLYPH_STROKE, 4, PALETTE_MANY,
		    "lowest to highest of %zu %ss", column, noun);
	if (window > 0)
		key_add(key, GLYPH_LINE, 7, PALETTE_SLOW, "median of %zu %ss", window,
		    noun);
	if (seen.outside > 0)
		key_add(key, GLYPH_DIAMOND, special_radius(what), PALETTE_LIMIT,
		    "outside a limit (%zu)", seen.outside);
	if (seen.signals > 0)
		key_add(key, GLYPH_RING, special_radius(what), PALETTE_INK,
		    "a pattern points at it (%zu)", seen.signals);
	if (seen.absent > 0 && seen.there > 0)
		key_add(
		    key, GLYPH_CROSS, 3, PALETTE_FAINT, "absent (%zu)", seen.absent);
	add_off(key, y, GLYPH_UP, seen.above,
	    seen.highest > what->upper ? PALETTE_LIMIT : PALETTE_INK, seen.highest);
	add_off(key, y, GLYPH_DOWN, seen.below,
	    seen.lowest < what->lower ? PALETTE_LIMIT : PALETTE_INK, seen.lowest);
}

/* --- each shot a point ------------------------------------------------------------------- */

static bool
are_joined(const struct run_picture *what, size_t i)
{
	return i > 0 && fabs(what->values[i]) < SCALE_HUGE &&
	       fabs(what->values[i - 1]) < SCALE_HUGE &&
	       !(what->breaks && what->breaks[i]);
}

/* Values that leave the scale are led to the edge, and no further: numbers of a drawing stay
 * small. */
static double
held(const struct axes *axes, double value)
{
	double range = axes->y.high - axes->y.low;

	return fmin(fmax(value, axes->y.low - range), axes->y.high + range);
}

static void
join(struct canvas *canvas, const struct axes *axes, const struct run_picture *what)
{
	static const struct canvas_pen pen = {PALETTE_JOIN, 0.9, DASH_SOLID};
	struct canvas_point *points = calloc(what->count, sizeof *points);
	size_t length = 0;

	if (!points) {
		canvas_lose(canvas);
		return;
	}
	for (size_t i = 0; i < what->count; i++) {
		if (!are_joined(what, i)) {
			canvas_polyline(canvas, points, length, &pen);
			length = 0;
		}
		if (fabs(what->values[i]) < SCALE_HUGE)
			points[length++] =
			    shot_point(axes, i, held(axes, what->values[i]));
	}
	canvas_polyline(canvas, points, length, &pen);
	free(points);
}

static void
put_dots(struct canvas *canvas, const struct axes *axes, const struct run_picture *what)
{
	double radius = dot_radius(what, axes->box.right - axes->box.left);

	for (size_t i = 0; i < what->count; i++)
		if (scale_holds(&axes->y, what->values[i]) && !is_outside(what, i))
			glyph_put(canvas, GLYPH_DOT,
			    shot_point(axes, i, what->values[i]), radius,
			    PALETTE_POINT);
}

/* --- many shots a column ------------------------------------------------------------------ */

static void
put_column(struct canvas *canvas, const struct axes *axes,
    const struct run_picture *what, size_t from, size_t to)
{
	static const struct canvas_pen pen = {PALETTE_MANY, COLUMN * 0.8, DASH_SOLID};
	double low = INFINITY, high = -INFINITY;
	size_t middle = from + (to - from) / 2;

	for (size_t i = from; i < to; i++)
		if (scale_holds(&axes->y, what->values[i])) {
			low = fmin(low, what->values[i]);
			high = fmax(high, what->values[i]);
		}
	if (low > high)
		return;
	struct canvas_point foot = shot_point(axes, middle, low);
	struct canvas_point top = shot_point(axes, middle, high);
	canvas_line(canvas, (struct canvas_point){foot.x, foot.y + 0.7},
	    (struct canvas_point){top.x, top.y - 0.7}, &pen);
}

void
run_plot_put(
    struct canvas *canvas, const struct axes *axes, const struct run_picture *what)
{
	size_t column = run_plot_column(what, axes->box.right - axes->box.left);

	if (what->count == 0)
		return;
	canvas_clip(canvas, axes->box);
	if (column == 1) {
		join(canvas, axes, what);
		canvas_unclip(canvas); /* dots at the edge stay whole */
		put_dots(canvas, axes, what);
	} else {
		for (size_t i = 0; i < what->count; i += column)
			put_column(canvas, axes, what, i,
			    i + column < what->count ? i + column : what->count);
		canvas_unclip(canvas);
	}
	run_median_put(canvas, axes, what);
}

/* --- those that stand out ------------------------------------------------------------------ */

/* A shot's kinds of marks: bits, so that a column gets each once. */
enum { OUT_ABOVE = 1, OUT_BELOW = 2, SIGNAL = 4, ABSENT = 8, HIGH = 16, LOW = 32 };

static unsigned
kinds_of(const struct axes *axes, const struct run_picture *what, size_t i)
{
	double value = what->values[i];
	unsigned kinds = 0;

	if (isnan(value))
		return ABSENT;
	if (value > axes->y.high)
		kinds |= HIGH;
	else if (value < axes->y.low)
		kinds |= LOW;
	else if (is_outside(what, i))
		kinds |= value < what->lower ? OUT_BELOW : OUT_ABOVE;
	if (is_signal(what, i))
		kinds |= SIGNAL;
	return kinds;
}

static void
put_special(struct canvas *canvas, const struct axes *axes,
    const struct run_picture *what, size_t i, unsigned kinds)
{
	double value = fmin(fmax(what->values[i], axes->y.low), axes->y.high);
	struct canvas_point at = {shot_point(axes, i, axes->y.low).x, axes->box.bottom};
	uint32_t edge = is_outside(what, i) ? PALETTE_LIMIT : PALETTE_INK;

	if (kinds & ABSENT) {
		at.y -= 4;
		glyph_put(canvas, GLYPH_CROSS, at, 3, PALETTE_FAINT);
		return;
	}
	if (kinds & HIGH)
		at.y = axes->box.top + 5;
	else if (kinds & LOW)
		at.y = axes->box.bottom - 5;
	else
		at.y = shot_point(axes, i, value).y;
	if (kinds & (HIGH | LOW))
		glyph_put(canvas, kinds & HIGH ? GLYPH_UP : GLYPH_DOWN, at, 4.5, edge);
	if (kinds & (OUT_ABOVE | OUT_BELOW))
		glyph_put(
		    canvas, GLYPH_DIAMOND, at, special_radius(what), PALETTE_LIMIT);
	if (kinds & SIGNAL)
		glyph_put(canvas, GLYPH_RING, at, special_radius(what), PALETTE_INK);
}

/* In a column one of each kind: of those outside, the furthest. */
void
run_plot_put_special(
    struct canvas *canvas, const struct axes *axes, const struct run_picture *what)
{
	size_t column = run_plot_column(what, axes->box.right - axes->box.left);

	for (size_t from = 0; from < what->count; from += column) {
		size_t to = from + column < what->count ? from + column : what->count;
		size_t chosen[6];
		unsigned present = 0;
		for (size_t i = from; i < to; i++) {
			unsigned kinds = kinds_of(axes, what, i);
			for (int kind = 0; kind < 6; kind++) {
				unsigned bit = 1U << kind;
				double value = what->values[i];
				if (!(kinds & bit))
					continue;
				if (!(present & bit) ||
				    (bit == OUT_ABOVE &&
					value > what->values[chosen[kind]]) ||
				    (bit == OUT_BELOW &&
					value < what->values[chosen[kind]]))
					chosen[kind] = i;
				present |= bit;
			}
		}
		for (int kind = 0; kind < 6; kind++)
			if (present & 1U << kind)
				put_special(canvas, axes, what, chosen[kind],
				    1U << kind | (kinds_of(axes, what, chosen[kind]) &
						     (HIGH | LOW)));
	}
}
