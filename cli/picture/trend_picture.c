/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/trend_picture.h"

#include <math.h>
#include <stdlib.h>

#include "cli/picture/glyph.h"
#include "cli/picture/lettering.h"
#include "cli/picture/marks.h"
#include "cli/picture/palette.h"
#include "cli/picture/scale.h"

#define PLOT_HEIGHT 170.0
#define PLOT_RIGHT 536.0
#define LABELS_LEFT 548.0
#define STRIP 18.0 /* under the plot, where something is withheld */

struct layout {
	struct axes axes;
	struct marks marks;
	struct key key;
	size_t shown, withheld;
	double strip; /* height */
	bool named;   /* each point has its name under it */
	double caption, key_top, legend_top, bottom;
	bool lost;
};

static bool
is_shown(const struct trend_point *point)
{
	return !point->withheld && isfinite(point->value);
}

/* Values and the ends of their intervals; where something is required, a fifth of it to both
 * sides too, so that what hardly moves does not look as if it did. */
static bool
make_scale(const struct trend_picture *what, struct axis *axis)
{
	double *values = calloc(3 * what->count + 2, sizeof *values);
	const double far[] = {what->lower, what->upper};
	struct scale_asked asked = {.values = values,
	    .near = &what->required,
	    .near_count = 1,
	    .far = far,
	    .far_count = 2};

	if (!values) {
		*axis = axis_make(0, 1, 5, false);
		return false;
	}
	for (size_t i = 0; i < what->count; i++) {
		const struct trend_point *point = &what->points[i];
		if (!is_shown(point))
			continue;
		values[asked.count++] = point->value;
		values[asked.count++] = point->low;
		values[asked.count++] = point->high;
	}
	values[asked.count++] = what->required * 0.8; /* or NAN */
	values[asked.count++] = what->required * 1.2;
	bool made = scale_make(&asked, axis);
	free(values);
	return made;
}

static double
point_radius(const struct trend_picture *what)
{
	return what->count > 120 ? 1.8 : what->count > 40 ? 2.6 : 3.4;
}

static void
lay_key(const struct trend_picture *what, struct layout *layout)
{
	struct key *key = &layout->key;
	size_t stable = 0, unstable = 0, withheld = 0, intervals = 0;

	for (size_t i = 0; i < what->count; i++) {
		bool shown = is_shown(&what->points[i]);
		stable += shown && what->points[i].stable;
		unstable += shown && !what->points[i].stable;
		withheld += !shown;
		intervals += shown && what->points[i].low < what->points[i].high;
	}
	if (stable > 0)
		key_add(key, GLYPH_DOT, 3, PALETTE_SLOW, "stable (%zu)", stable);
	if (unstable > 0)
		key_add(key, GLYPH_HOLLOW, 4, PALETTE_SLOW,
		    "not shown to be stable (%zu)", unstable);
	if (intervals > 0)
		key_add(key, GLYPH_STROKE, 5, PALETTE_POINT, "interval");
	if (withheld > 0)
		key_add(
		    key, GLYPH_CROSS, 3.4, PALETTE_FAINT, "withheld (%zu)", withheld);
	layout->shown = stable + unstable;
	layout->withheld = withheld;
	layout->strip = withheld > 0 ? STRIP : 0;
}

#define NAMES_APART 6.0

static bool
names_fit(const struct trend_picture *what, const struct axes *axes)
{
	const struct canvas_letters letters = {.size = LETTERING_SMALL};
	double room = (axes->box.right - axes->box.left) / axes->x.high;

	for (size_t i = 0; what->names && i < what->count; i++)
		if (canvas_text_width(&letters, what->names[i]) + NAMES_APART > room)
			return false;
	return what->names && what->count > 0;
}

/* marks_release(&layout->marks) afterwards. */
static void
lay(const struct trend_picture *what, struct layout *layout)
{
	struct axes *axes = &layout->axes;

	*layout = (struct layout){.lost = false};
	if (!make_scale(what, &axes->y))
		layout->lost = true;
	axes->x =
	    (struct axis){.low = 0, .high = what->count ? (double)what->count : 1};
	axes->box.left = SHEET_EDGE + scale_width(&axes->y);
	axes->box.right = PLOT_RIGHT;
	if (!marks_lay(&layout->marks, axes, what->marks, what->mark_count))
		layout->lost = true;
	layout->caption = lettering_head_height(NULL) + LETTERING_LINE;
	axes->box.top = layout->caption + 11 + marks_height(&layout->marks);
	axes->box.bottom = axes->box.top + PLOT_HEIGHT;
	lay_key(what, layout);
	layout->named = names_fit(what, axes);
	layout->key_top = axes->box.bottom + layout->strip + TICKS_HEIGHT + 3 +
	                  (layout->named ? LETTERING_LINE : 0);
	layout->legend_top = layout->key_top + key_height(&layout->key);
	layout->bottom =
	    layout->legend_top + marks_legend_height(&layout->marks) + SHEET_EDGE - 2;
}

/* --- drawing --------------------------------------------------------------------------------- */

static struct canvas_point
point_at(const struct axes *axes, size_t i, double value)
{
	double on = fmin(fmax(value, axes->y.low), axes->y.high);

	return axes_point(axes, (double)i + 0.5, on);
}

static void
put_joins(
    struct canvas *canvas, const struct axes *axes, const struct trend_picture *what)
{
	static const struct canvas_pen pen = {PALETTE_JOIN, 1, DASH_SOLID};

	for (size_t i = 1; i < what->count; i++)
		if (is_shown(&what->points[i]) && is_shown(&what->points[i - 1]))
			canvas_line(canvas,
			    point_at(axes, i - 1, what->points[i - 1].value),
			    point_at(axes, i, what->points[i].value), &pen);
}

/* What leaves the scale ends in a triangle. */
static void
put_interval(struct canvas *canvas, const struct axes *axes, size_t i,
    const struct trend_point *point)
{
	static const struct canvas_pen pen = {PALETTE_POINT, 1.1, DASH_SOLID};
	double low = isnan(point->low) ? point->value : point->low;
	double high = isnan(point->high) ? point->value : point->high;
	struct canvas_point foot = point_at(axes, i, low),
			    top = point_at(axes, i, high);

	canvas_line(canvas, foot, top, &pen);
	if (high > axes->y.high)
		glyph_put(canvas, GLYPH_UP, (struct canvas_point){top.x, top.y + 2}, 3,
		    PALETTE_POINT);
	if (low < axes->y.low)
		glyph_put(canvas, GLYPH_DOWN, (struct canvas_point){foot.x, foot.y - 2},
		    3, PALETTE_POINT);
}

static void
put_points(
    struct canvas *canvas, const struct axes *axes, const struct trend_picture *what)
{
	double radius = point_radius(what);

	for (size_t i = 0; i < what->count; i++)
		if (is_shown(&what->points[i]))
			put_interval(canvas, axes, i, &what->points[i]);
	for (size_t i = 0; i < what->count; i++) {
		const struct trend_point *point = &what->points[i];
		struct canvas_point at = {
		    point_at(axes, i, axes->y.low).x, axes->box.bottom + STRIP / 2};
		if (is_shown(point))
			at = point_at(axes, i, point->value);
		if (!is_shown(point))
			glyph_put(canvas, GLYPH_CROSS, at, fmin(radius + 0.4, 3.4),
			    PALETTE_FAINT);
		else if (point->stable)
			glyph_put(canvas, GLYPH_DOT, at, radius, PALETTE_SLOW);
		else
			glyph_put(
			    canvas, GLYPH_HOLLOW, at, radius * 1.35, PALETTE_SLOW);
	}
}

static void
put_ground(struct canvas *canvas, const struct layout *layout,
    const struct trend_picture *what)
{
	static const struct canvas_pen foot = {PALETTE_FRAME, 0.8, DASH_SOLID},
				       limit = {PALETTE_LIMIT, 1.6, DASH_SOLID};
	const struct axes *axes = &layout->axes;
	const struct canvas_box *box = &axes->box;
	struct scale_lines lines = {.count = 0};

	scale_ground(canvas, axes, isnan(what->required) ? what->lower : what->required,
	    what->upper);
	scale_put(canvas, axes);
	marks_put_lines(canvas, &layout->marks, box);
	for (int i = 0; i < 2; i++) {
		double y = box->bottom + i * layout->strip;
		canvas_line(canvas, (struct canvas_point){box->left, y},
		    (struct canvas_point){box->right, y}, &foot);
	}
	scale_lines_add(&lines, &axes->y, what->upper, "upper", limit, true);
	scale_lines_add(&lines, &axes->y, what->required, "required", limit, true);
	scale_lines_add(&lines, &axes->y, what->lower, "lower", limit, true);
	scale_lines_put(canvas, axes, &lines, box->left, box->right);
	scale_lines_label(canvas, axes, &lines, box->right, LABELS_LEFT);
}

static void
put_captions(struct canvas *canvas, const struct layout *layout,
    const struct trend_picture *what)
{
	struct canvas_letters letters = {.size = LETTERING_SMALL, .rgb = PALETTE_FAINT};
	struct canvas_point at = {SHEET_EDGE, layout->caption};
	char words[LETTERING_ROOM];

	lettering_fit(&letters, what->y_label, SHEET_WIDTH - 2 * SHEET_EDGE, words);
	canvas_text(canvas, at, &letters, words);
	at = (struct canvas_point){
	    LABELS_LEFT, layout->axes.box.bottom + STRIP / 2 + LETTERING_RISE};
	if (layout->withheld > 0)
		canvas_text(canvas, at, &letters, "withheld");
	at = axes_point(&layout->axes, layout->axes.x.high / 2, layout->axes.y.high);
	letters.anchor = ANCHOR_MIDDLE;
	at.y += 40;
	if (layout->shown == 0)
		canvas_text(canvas, at, &letters, "nothing can be shown");
}

/* The days, below the names of the shifts. */
static void
put_days(struct canvas *canvas, const struct axes *under,
    const struct trend_picture *what, const struct canvas_letters *letters)
{
	double taken = 0;

	for (size_t i = 0; i < what->tick_count; i++) {
		double half = canvas_text_width(letters, what->ticks[i].label) / 2;
		struct canvas_point at = {
		    point_at(under, what->ticks[i].at, under->y.low).x,
		    under->box.bottom + 4 + LETTERING_SMALL + LETTERING_LINE};
		at.x = fmax(at.x, SHEET_EDGE + half);
		if (at.x - half < taken + NAMES_APART)
			continue;
		canvas_text(canvas, at, letters, what->ticks[i].label);
		taken = at.x + half;
	}
}

/* Days alone, or names with the days below them. */
static void
put_under(struct canvas *canvas, const struct layout *layout,
    const struct trend_picture *what)
{
	static const struct canvas_pen pen = {PALETTE_FRAME, 0.8, DASH_SOLID};
	const struct canvas_letters letters = {
	    .size = LETTERING_SMALL, .rgb = PALETTE_FAINT, .anchor = ANCHOR_MIDDLE};
	struct axes under = layout->axes;

	under.box.bottom += layout->strip;
	if (!layout->named) {
		ticks_put(canvas, &under, "shift", what->ticks, what->tick_count);
		return;
	}
	for (size_t i = 0; i < what->count; i++) {
		struct canvas_point at = point_at(&under, i, under.y.low);
		at.y = under.box.bottom;
		canvas_line(canvas, at, (struct canvas_point){at.x, at.y + 3}, &pen);
		at.y += 4 + LETTERING_SMALL;
		canvas_text(canvas, at, &letters, what->names[i]);
	}
	put_days(canvas, &under, what, &letters);
}

static void
draw(struct canvas *canvas, const void *drawn)
{
	const struct trend_picture *what = drawn;
	struct layout layout;

	lay(what, &layout);
	if (layout.lost)
		canvas_lose(canvas);
	lettering_head(canvas, (struct canvas_point){SHEET_WIDTH, layout.bottom},
	    what->heading, NULL);
	put_ground(canvas, &layout, what);
	put_captions(canvas, &layout, what);
	put_joins(canvas, &layout.axes, what);
	put_points(canvas, &layout.axes, what);
	marks_put_labels(canvas, &layout.marks, &layout.axes.box);
	put_under(canvas, &layout, what);
	key_put(canvas, &layout.key, layout.key_top);
	marks_put_legend(canvas, &layout.marks, layout.legend_top);
	marks_release(&layout.marks);
}

struct picture
trend_picture_make(const struct trend_picture *what, const char *name,
    const char *title, const char *description)
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
