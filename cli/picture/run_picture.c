/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/run_picture.h"

#include <math.h>

#include "cli/picture/glyph.h"
#include "cli/picture/lettering.h"
#include "cli/picture/marks.h"
#include "cli/picture/palette.h"
#include "cli/picture/run_plot.h"
#include "cli/picture/scale.h"

#define PLOT_HEIGHT 170.0
#define SPREAD_WIDTH 104.0 /* the distribution */
#define LABELS_LEFT 548.0  /* further left where they need the room */
#define BETWEEN 10.0       /* shots and distribution, distribution and labels */
#define LABELS_MOST 230.0  /* in width */

/* Where everything is: from above to below. */
struct layout {
	struct axes axes;
	struct canvas_box spread;
	struct marks marks;
	struct key key;
	double labels;  /* left edge of the words of limits */
	double caption; /* base of what stands over the plot */
	double key_top, legend_top, bottom;
	bool lost;
};

static bool
make_scale(const struct run_picture *what, struct axis *axis)
{
	const double near[] = {what->control_low, what->centre, what->control_high};
	const double far[] = {what->target, what->lower, what->upper};

	return scale_make(
	    &(struct scale_asked){what->values, what->count, near, far, 3, 3}, axis);
}

/* Limits, which go on through the distribution, and lines of the order in time, which do
 * not. */
enum { LIMITS = 1, CONTROL = 2 };

static void
add_lines(struct scale_lines *lines, const struct run_picture *what,
    const struct axis *y, unsigned kinds)
{
	static const struct canvas_pen limit = {PALETTE_LIMIT, 1.6, DASH_SOLID},
				       target = {PALETTE_TARGET, 1.1, DASH_DOTTED},
				       control = {PALETTE_CONTROL, 1, DASH_LONG},
				       centre = {PALETTE_CONTROL, 1, DASH_SOLID};

	if (kinds & LIMITS) {
		scale_lines_add(lines, y, what->upper, "upper", limit, true);
		scale_lines_add(lines, y, what->target, "target", target, true);
		scale_lines_add(lines, y, what->lower, "lower", limit, true);
	}
	if (kinds & CONTROL) {
		scale_lines_add(
		    lines, y, what->control_high, "control", control, false);
		scale_lines_add(lines, y, what->centre, "centre", centre, false);
		scale_lines_add(lines, y, what->control_low, "control", control, false);
	}
}

/* Distribution and labels, from the right: these may need more room than they usually do. */
static void
lay_right(const struct run_picture *what, struct layout *layout)
{
	struct scale_lines lines = {.count = 0};

	add_lines(&lines, what, &layout->axes.y, LIMITS | CONTROL);
	double width = fmin(scale_lines_width(&lines), LABELS_MOST);
	layout->labels = fmin(LABELS_LEFT, SHEET_WIDTH - SHEET_EDGE - width);
	layout->spread.right = layout->labels - BETWEEN;
	layout->spread.left = layout->spread.right - SPREAD_WIDTH;
	layout->axes.box.right = layout->spread.left - BETWEEN;
}

/* marks_release(&layout->marks) afterwards. */
static void
lay(const struct run_picture *what, struct layout *layout)
{
	struct axes *axes = &layout->axes;

	*layout = (struct layout){.lost = false};
	if (!make_scale(what, &axes->y))
		layout->lost = true;
	axes->x =
	    (struct axis){.low = 0, .high = what->count ? (double)what->count : 1};
	axes->box.left = SHEET_EDGE + scale_width(&axes->y);
	lay_right(what, layout);
	if (!marks_lay(&layout->marks, axes, what->marks, what->mark_count))
		layout->lost = true;
	layout->caption = lettering_head_height(what->verdict) + LETTERING_LINE;
	axes->box.top = layout->caption + 11 + marks_height(&layout->marks);
	axes->box.bottom = axes->box.top + PLOT_HEIGHT;
	layout->spread.top = axes->box.top;
	layout->spread.bottom = axes->box.bottom;
	run_plot_key(what, &axes->y, axes->box.right - axes->box.left, &layout->key);
	layout->key_top = axes->box.bottom + TICKS_HEIGHT + 3;
	layout->legend_top = layout->key_top + key_height(&layout->key);
	layout->bottom =
	    layout->legend_top + marks_legend_height(&layout->marks) + SHEET_EDGE - 2;
}

static void
put_captions(
    struct canvas *canvas, const struct layout *layout, const struct run_picture *what)
{
	const struct canvas_letters letters = {
	    .size = LETTERING_SMALL, .rgb = PALETTE_FAINT};
	struct canvas_point at = {SHEET_EDGE, layout->caption};
	char words[LETTERING_ROOM], curve[LETTERING_ROOM];

	lettering_fit(&letters, what->y_label, layout->spread.left - 20 - at.x, words);
	canvas_text(canvas, at, &letters, words);
	if (what->curve_at && what->curve_name)
		snprintf(curve, sizeof curve, "curve: %s", what->curve_name);
	else
		snprintf(curve, sizeof curve, "no curve");
	at.x = layout->spread.left;
	lettering_fit(&letters, curve, SHEET_WIDTH - SHEET_EDGE - at.x, words);
	canvas_text(canvas, at, &letters, words);
}

const char *
run_picture_noun(const struct run_picture *what)
{
	return what->noun ? what->noun : "shot";
}

static void
put_empty(struct canvas *canvas, const struct canvas_box *box)
{
	const struct canvas_letters letters = {
	    .size = LETTERING_WORDS, .rgb = PALETTE_FAINT, .anchor = ANCHOR_MIDDLE};

	canvas_text(canvas,
	    (struct canvas_point){
		(box->left + box->right) / 2, (box->top + box->bottom) / 2 - 10},
	    &letters, "nothing has a value");
}

static bool
is_empty(const struct run_picture *what)
{
	for (size_t i = 0; i < what->count; i++)
		if (!isnan(what->values[i]))
			return false;
	return true;
}

static void
put_ground(
    struct canvas *canvas, const struct layout *layout, const struct run_picture *what)
{
	static const struct canvas_pen foot = {PALETTE_FRAME, 0.8, DASH_SOLID};
	const struct axes *axes = &layout->axes;
	struct axes whole = *axes;

	whole.box.right = layout->spread.right;
	scale_ground(canvas, &whole, what->lower, what->upper);
	scale_put(canvas, axes);
	marks_put_lines(canvas, &layout->marks, &axes->box);
	canvas_line(canvas, (struct canvas_point){axes->box.left, axes->box.bottom},
	    (struct canvas_point){axes->box.right, axes->box.bottom}, &foot);
}

static void
put_lines(struct canvas *canvas, const struct layout *layout,
    const struct run_picture *what, unsigned kinds)
{
	const struct axes *axes = &layout->axes;
	double right = kinds & LIMITS ? layout->spread.right : axes->box.right;
	struct scale_lines lines = {.count = 0};

	add_lines(&lines, what, &axes->y, kinds);
	scale_lines_put(canvas, axes, &lines, axes->box.left, right);
}

static void
put_labels(
    struct canvas *canvas, const struct layout *layout, const struct run_picture *what)
{
	struct scale_lines lines = {.count = 0};

	add_lines(&lines, what, &layout->axes.y, LIMITS | CONTROL);
	scale_lines_label(
	    canvas, &layout->axes, &lines, layout->spread.right, layout->labels);
}

static void
draw(struct canvas *canvas, const void *drawn)
{
	const struct run_picture *what = drawn;
	struct layout layout;

	lay(what, &layout);
	if (layout.lost)
		canvas_lose(canvas);
	lettering_head(canvas, (struct canvas_point){SHEET_WIDTH, layout.bottom},
	    what->heading, what->verdict);
	put_captions(canvas, &layout, what);
	put_ground(canvas, &layout, what);
	put_lines(canvas, &layout, what, CONTROL);
	run_spread_put(canvas, &layout.spread, &layout.axes.y, what);
	run_plot_put(canvas, &layout.axes, what);
	put_lines(canvas, &layout, what, LIMITS);
	run_plot_put_special(canvas, &layout.axes, what);
	if (is_empty(what))
		put_empty(canvas, &layout.axes.box);
	marks_put_labels(canvas, &layout.marks, &layout.axes.box);
	put_labels(canvas, &layout, what);
	ticks_put(canvas, &layout.axes, run_picture_noun(what), what->ticks,
	    what->tick_count);
	key_put(canvas, &layout.key, layout.key_top);
	marks_put_legend(canvas, &layout.marks, layout.legend_top);
	marks_release(&layout.marks);
}

struct picture
run_picture_make(const struct run_picture *what, const char *name, const char *title,
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
	    .sentence = what->verdict,
	    .head = lettering_head_height(what->verdict),
	    .in_time = true,
	    .draw = draw,
	    .what = what};
}
