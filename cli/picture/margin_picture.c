/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/margin_picture.h"

#include <math.h>
#include <stdio.h>

#include "cli/picture/axes.h"
#include "cli/picture/glyph.h"
#include "cli/picture/lettering.h"
#include "cli/picture/palette.h"

#define PLOT_LEFT 208.0
#define PLOT_RIGHT 500.0
#define WORDS_LEFT 516.0
#define ROW 18.0
#define NUMBERS 18.0 /* under the plot */
#define SPAN_LEAST 1.5
#define SPAN_MOST 5.0 /* what is further off ends in an arrow */

struct layout {
	struct axes axes;
	struct key key;
	double caption, key_top, bottom;
};

/* --- where it all stands ----------------------------------------------------------------- */

static double
reach_of(const struct margin_row *row)
{
	double reach = fabs(row->difference);

	reach = isfinite(row->low) ? fmax(reach, fabs(row->low)) : reach;
	return isfinite(row->high) ? fmax(reach, fabs(row->high)) : reach;
}

static void
lay_key(const struct margin_picture *what, struct key *key)
{
	size_t counts[] = {0, 0, 0}, intervals = 0;

	for (size_t i = 0; i < what->count; i++) {
		counts[what->rows[i].verdict]++;
		intervals += isfinite(what->rows[i].low) ? 1 : 0;
	}
	if (counts[ROW_SAME] > 0)
		key_add(key, GLYPH_DOT, 3.4, PALETTE_SLOW, "shown to be the same (%zu)",
		    counts[ROW_SAME]);
	if (counts[ROW_DIFFERENT] > 0)
		key_add(key, GLYPH_DIAMOND, 4.6, PALETTE_LIMIT,
		    "shown to be different (%zu)", counts[ROW_DIFFERENT]);
	if (counts[ROW_OPEN] > 0)
		key_add(key, GLYPH_HOLLOW, 4.6, PALETTE_SLOW, "open (%zu)",
		    counts[ROW_OPEN]);
	if (intervals > 0)
		key_add(key, GLYPH_LINE, 5, PALETTE_POINT, "90 %% interval");
}

static void
lay(const struct margin_picture *what, struct layout *layout)
{
	struct axes *axes = &layout->axes;
	double span = SPAN_LEAST;

	*layout = (struct layout){.caption = lettering_head_height(NULL) + 11};
	for (size_t i = 0; i < what->count; i++)
		span = fmax(span, 1.05 * reach_of(&what->rows[i]));
	span = fmin(span, SPAN_MOST);
	axes->x = axis_make(-span, span, 2, false);
	axes->y = (struct axis){.low = 0, .high = fmax((double)what->count, 1)};
	axes->box.left = PLOT_LEFT;
	axes->box.right = PLOT_RIGHT;
	axes->box.top = layout->caption + 8;
	axes->box.bottom = axes->box.top + ROW * axes->y.high;
	lay_key(what, &layout->key);
	layout->key_top = axes->box.bottom + NUMBERS;
	layout->bottom = layout->key_top + key_height(&layout->key) + SHEET_EDGE;
}

/* --- drawing ------------------------------------------------------------------------------ */

static double
x_at(const struct axes *axes, double value)
{
	double on = fmin(fmax(value, axes->x.low), axes->x.high);

	return axes_point(axes, on, 0).x;
}

static void
upright(struct canvas *canvas, const struct axes *axes, double value,
    const struct canvas_pen *pen)
{
	double x = x_at(axes, value);

	canvas_line(canvas, (struct canvas_point){x, axes->box.top},
	    (struct canvas_point){x, axes->box.bottom}, pen);
}

static void
put_numbers(struct canvas *canvas, const struct axes *axes)
{
	static const struct canvas_letters letters = {
	    .size = LETTERING_SMALL, .rgb = PALETTE_FAINT, .anchor = ANCHOR_MIDDLE};
	static const struct canvas_pen grid = {PALETTE_GRID, 0.8, DASH_SOLID};

	for (int margins = -(int)SPAN_MOST; margins <= (int)SPAN_MOST; margins++) {
		struct canvas_point at = {
		    x_at(axes, margins), axes->box.bottom + LETTERING_LINE};
		char words[16];
		if (fabs((double)margins) > axes->x.high)
			continue;
		snprintf(words, sizeof words, margins ? "%+d" : "%d", margins);
		upright(canvas, axes, margins, &grid);
		canvas_text(canvas, at, &letters, words);
	}
}

static void
put_ground(struct canvas *canvas, const struct layout *layout)
{
	static const struct canvas_pen margin = {PALETTE_LIMIT, 1.4, DASH_SOLID},
				       nought = {PALETTE_CONTROL, 1, DASH_SHORT};
	const struct axes *axes = &layout->axes;
	struct canvas_box below = axes->box, above = axes->box;

	below.right = x_at(axes, -1);
	above.left = x_at(axes, 1);
	canvas_fill(canvas, below, PALETTE_BEYOND);
	canvas_fill(canvas, above, PALETTE_BEYOND);
	put_numbers(canvas, axes);
	upright(canvas, axes, 0, &nought);
	upright(canvas, axes, -1, &margin);
	upright(canvas, axes, 1, &margin);
}

/* What leaves the scale ends in an arrow. */
static void
put_arrow(struct canvas *canvas, double x, double y, double way)
{
	const struct canvas_point corners[] = {
	    {x, y}, {x - way * 5, y - 3.4}, {x - way * 5, y + 3.4}};

	canvas_polygon(canvas, corners, 3, PALETTE_POINT);
}

static void
put_interval(
    struct canvas *canvas, const struct axes *axes, double y, double low, double high)
{
	static const struct canvas_pen pen = {PALETTE_POINT, 1.6, DASH_SOLID};

	canvas_line(canvas, (struct canvas_point){x_at(axes, low), y},
	    (struct canvas_point){x_at(axes, high), y}, &pen);
	if (low < axes->x.low)
		put_arrow(canvas, axes->box.left, y, -1);
	if (high > axes->x.high)
		put_arrow(canvas, axes->box.right, y, 1);
}

static void
put_glyph(struct canvas *canvas, struct canvas_point at, enum row_verdict verdict)
{
	switch (verdict) {
	case ROW_SAME:
		glyph_put(canvas, GLYPH_DOT, at, 3.4, PALETTE_SLOW);
		return;
	case ROW_DIFFERENT:
		glyph_put(canvas, GLYPH_DIAMOND, at, 4.6, PALETTE_LIMIT);
		return;
	case ROW_OPEN:
		glyph_put(canvas, GLYPH_HOLLOW, at, 4.6, PALETTE_SLOW);
		return;
	}
}

static void
put_row(struct canvas *canvas, const struct axes *axes, const struct margin_row *row,
    double y)
{
	struct canvas_letters letters = {
	    .size = LETTERING_SMALL, .rgb = PALETTE_INK, .anchor = ANCHOR_START};
	char words[LETTERING_ROOM];

	lettering_fit(&letters, row->name, PLOT_LEFT - SHEET_EDGE - 8, words);
	canvas_text(canvas, (struct canvas_point){SHEET_EDGE, y + LETTERING_RISE},
	    &letters, words);
	lettering_fit(
	    &letters, row->words, SHEET_WIDTH - SHEET_EDGE - WORDS_LEFT, words);
	canvas_text(canvas, (struct canvas_point){WORDS_LEFT, y + LETTERING_RISE},
	    &letters, words);
	if (isfinite(row->low) && isfinite(row->high))
		put_interval(canvas, axes, y, row->low, row->high);
	if (!isfinite(row->difference))
		return;
	double x = x_at(axes, row->difference);
	if (fabs(row->difference) > axes->x.high)
		put_arrow(canvas, x, y, row->difference < 0 ? -1 : 1);
	else
		put_glyph(canvas, (struct canvas_point){x, y}, row->verdict);
}

static void
draw(struct canvas *canvas, const void *drawn)
{
	static const struct canvas_letters letters = {
	    .size = LETTERING_SMALL, .rgb = PALETTE_FAINT};
	const struct margin_picture *what = drawn;
	struct layout layout;
	char words[LETTERING_ROOM];

	lay(what, &layout);
	lettering_head(canvas, (struct canvas_point){SHEET_WIDTH, layout.bottom},
	    what->heading, NULL);
	lettering_fit(&letters, what->caption, SHEET_WIDTH - 2 * SHEET_EDGE, words);
	canvas_text(
	    canvas, (struct canvas_point){SHEET_EDGE, layout.caption}, &letters, words);
	put_ground(canvas, &layout);
	for (size_t i = 0; i < what->count; i++)
		put_row(canvas, &layout.axes, &what->rows[i],
		    layout.axes.box.top + ROW * ((double)i + 0.5));
	key_put(canvas, &layout.key, layout.key_top);
}

struct picture
margin_picture_make(const struct margin_picture *what, const char *name,
    const char *title, const char *description)
{
	struct layout layout;

	lay(what, &layout);
	return (struct picture){.name = name,
	    .title = title,
	    .description = description,
	    .size = {SHEET_WIDTH, layout.bottom},
	    .draw = draw,
	    .what = what};
}
