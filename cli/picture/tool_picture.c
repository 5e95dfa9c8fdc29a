/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/tool_picture.h"

#include <math.h>
#include <stdlib.h>

#include "cli/picture/glyph.h"
#include "cli/picture/lettering.h"
#include "cli/picture/marks.h"
#include "cli/picture/palette.h"
#include "cli/picture/scale.h"
#include "cli/picture/tool_plot.h"

#define BAND_HEIGHT 130.0
#define SPREAD_HEIGHT 106.0
#define BETWEEN 26.0 /* the plots: the caption of the lower one */
#define PLOT_RIGHT 466.0
#define LABELS_LEFT 496.0

struct layout {
	struct axes band, spread;
	struct marks marks;
	struct key key;
	double caption, key_top, legend_top, bottom;
	bool lost;
};

/* --- how it is laid out ---------------------------------------------------------------------- */

/* Of several arrays, NULL among them, behind each other. */
static bool
scale_of_all(const double *const *arrays, size_t array_count, size_t count,
    const double *far, struct axis *axis)
{
	double *values = calloc(count ? array_count * count : 1, sizeof *values);
	struct scale_asked asked = {
	    .values = values, .far = far, .far_count = far ? TOOL_SPREADS : 0};

	if (!values) {
		*axis = axis_make(0, 1, 5, false);
		return false;
	}
	for (size_t k = 0; k < array_count; k++)
		for (size_t i = 0; arrays[k] && i < count; i++)
			values[asked.count++] = arrays[k][i];
	bool made = scale_make(&asked, axis);
	free(values);
	return made;
}

static void
lay_key(const struct tool_picture *what, double width, struct key *key)
{
	size_t column = tool_plot_column(what, width), absent = 0;

	key_add(key, GLYPH_BAR, 5, PALETTE_JOIN, "coldest to hottest sensor");
	key_add(key, GLYPH_LINE, 7, PALETTE_SLOW, "their mean");
	for (size_t i = 0; i < what->count; i++)
		absent += !tool_plot_has(what, i);
	if (absent > 0)
		key_add(key, GLYPH_CROSS, 3, PALETTE_FAINT, "absent (%zu)", absent);
	if (column > 1)
		key_add(key, GLYPH_STROKE, 5, PALETTE_MANY,
		    "of %zu shots together: extremes, mean, largest differences",
		    column);
}

/* marks_release(&layout->marks) afterwards. */
static void
lay(const struct tool_picture *what, struct layout *layout)
{
	const double *const band[] = {what->coldest, what->mean, what->hottest};
	struct axes *axes = &layout->band;

	*layout = (struct layout){.lost = false};
	bool made = scale_of_all(band, 3, what->count, NULL, &axes->y);
	made &= scale_of_all(what->spread, TOOL_SPREADS, what->count,
	    what->spread_limit, &layout->spread.y);
	axes->x =
	    (struct axis){.low = 0, .high = what->count ? (double)what->count : 1};
	axes->box.left =
	    SHEET_EDGE + fmax(scale_width(&axes->y), scale_width(&layout->spread.y));
	axes->box.right = PLOT_RIGHT;
	made &= marks_lay(&layout->marks, axes, what->marks, what->mark_count);
	layout->lost = !made;
	layout->caption = lettering_head_height(NULL) + LETTERING_LINE;
	axes->box.top = layout->caption + 11 + marks_height(&layout->marks);
	axes->box.bottom = axes->box.top + BAND_HEIGHT;
	layout->spread.x = axes->x;
	layout->spread.box = axes->box;
	layout->spread.box.top = axes->box.bottom + BETWEEN;
	layout->spread.box.bottom = layout->spread.box.top + SPREAD_HEIGHT;
	lay_key(what, axes->box.right - axes->box.left, &layout->key);
	layout->key_top = layout->spread.box.bottom + TICKS_HEIGHT + 3;
	layout->legend_top = layout->key_top + key_height(&layout->key);
	layout->bottom =
	    layout->legend_top + marks_legend_height(&layout->marks) + SHEET_EDGE - 2;
}

/* --- drawing ------------------------------------------------------------------------------------ */

static void
put_caption(struct canvas *canvas, double base, const char *caption)
{
	const struct canvas_letters letters = {
	    .size = LETTERING_SMALL, .rgb = PALETTE_FAINT};
	char words[LETTERING_ROOM];

	lettering_fit(&letters, caption, PLOT_RIGHT - SHEET_EDGE, words);
	double width = canvas_text_width(&letters, words);
	canvas_fill(canvas, /* lines of changes go by behind it */
	    (struct canvas_box){
		SHEET_EDGE, base - LETTERING_SMALL, SHEET_EDGE + width + 2, base + 3},
	    PALETTE_GROUND);
	canvas_text(canvas, (struct canvas_point){SHEET_EDGE, base}, &letters, words);
}

static void
put_ground(struct canvas *canvas, const struct layout *layout)
{
	static const struct canvas_pen foot = {PALETTE_FRAME, 0.8, DASH_SOLID};
	const struct axes *plots[] = {&layout->band, &layout->spread};

	for (int i = 0; i < 2; i++) {
		const struct canvas_box *box = &plots[i]->box;
		scale_put(canvas, plots[i]);
		canvas_line(canvas, (struct canvas_point){box->left, box->bottom},
		    (struct canvas_point){box->right, box->bottom}, &foot);
	}
}

/* Over the band, under the words. */
static void
put_marks(
    struct canvas *canvas, const struct layout *layout, const struct tool_picture *what)
{
	struct canvas_box both = layout->band.box;

	both.bottom = layout->spread.box.bottom;
	marks_put_lines(canvas, &layout->marks, &both);
	marks_put_labels(canvas, &layout->marks, &both);
	put_caption(canvas, layout->caption, what->y_label);
	put_caption(canvas, layout->spread.box.top - 10, what->spread_label);
}

static double
last_of(const double *values, size_t count)
{
	for (size_t i = count; i-- > 0;)
		if (isfinite(values[i]))
			return values[i];
	return NAN;
}

/* A spread's name stands at its last value, joined to it by its dash; so does its limit. */
static void
put_spreads(
    struct canvas *canvas, const struct layout *layout, const struct tool_picture *what)
{
	const struct axes *axes = &layout->spread;
	struct scale_lines limits = {.count = 0}, labels;

	for (int i = 0; i < TOOL_SPREADS; i++) {
		struct canvas_pen pen = tool_plot_pen(i);
		if (!what->spread[i])
			continue;
		pen.width = 0.9;
		scale_lines_add(
		    &limits, &axes->y, what->spread_limit[i], "at most", pen, true);
	}
	scale_lines_put(canvas, axes, &limits, axes->box.left, axes->box.right);
	labels = limits;
	for (int i = 0; i < TOOL_SPREADS; i++) {
		if (!what->spread[i])
			continue;
		tool_plot_put_spread(canvas, axes, what, i);
		double last = last_of(what->spread[i], what->count);
		if (isnan(last) || labels.count == SCALE_LINES)
			continue;
		struct scale_line *line = &labels.list[labels.count++];
		*line = (struct scale_line){.value = last, .pen = tool_plot_pen(i)};
		snprintf(line->words, sizeof line->words, "%s", what->spread_name[i]);
	}
	scale_lines_label(canvas, axes, &labels, axes->box.right, LABELS_LEFT);
}

static void
draw(struct canvas *canvas, const void *drawn)
{
	const struct tool_picture *what = drawn;
	struct layout layout;

	lay(what, &layout);
	if (layout.lost)
		canvas_lose(canvas);
	lettering_head(canvas, (struct canvas_point){SHEET_WIDTH, layout.bottom},
	    what->heading, NULL);
	put_ground(canvas, &layout);
	tool_plot_put_band(canvas, &layout.band, what);
	put_marks(canvas, &layout, what);
	put_spreads(canvas, &layout, what);
	ticks_put(canvas, &layout.spread, "shot", what->ticks, what->tick_count);
	key_put(canvas, &layout.key, layout.key_top);
	marks_put_legend(canvas, &layout.marks, layout.legend_top);
	marks_release(&layout.marks);
}

struct picture
tool_picture_make(const struct tool_picture *what, const char *name, const char *title,
    const char *description)
{
	struct layout layout;

	lay(what, &layout);
	marks_release(&layout.marks);
	return (struct picture){.name = name,
	    .title = title,
	    .description = description,
	    .size = {SHEET_WIDTH, layout.bottom},
	    .heading = what->heading,
	    .head = lettering_head_height(NULL),
	    .in_time = true,
	    .draw = draw,
	    .what = what};
}
