/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/soak_picture.h"

#include <assert.h>
#include <math.h>

#include "cli/picture/axes.h"
#include "cli/picture/soak_panel.h"

/* 800 x 500 px at 96 to the inch. */
#define WIDTH 600.0
#define HEIGHT 375.0
static const struct canvas_box course_box = {336, 56, 552, 310};

/* Two colours of Okabe and Ito's palette ("Color Universal Design", 2008), told apart
 * by colour-blind readers; line styles tell them apart in grey. */
#define TOP_RGB 0xd55e00
#define BOTTOM_RGB 0x0072b2
#define CORE_RGB 0x000000
#define BAR "The bar at the end of the core is its band (95 %)."

#define ROOM 0.04 /* of a scale, beyond the last value */

/* --- the scale of both panels ------------------------------------------------------ */

static void
widen(double *low, double *high, const double *values, size_t count)
{
	for (size_t i = 0; i < count; i++) {
		*low = fmin(*low, values[i]);
		*high = fmax(*high, values[i]);
	}
}

/* All that is drawn lies within; of the forming window, its edges. */
static struct axis
temperature_axis(const struct soak_picture *picture)
{
	const double *curves[] = {picture->top, picture->core, picture->bottom};
	double low = INFINITY, high = -INFINITY;

	widen(
	    &low, &high, picture->profile, picture->moment_count * picture->node_count);
	for (int i = 0; i < 3; i++)
		if (curves[i])
			widen(&low, &high, curves[i], picture->count);
	/* fmin and fmax pass over NAN */
	low = fmin(fmin(low, picture->core_low), picture->window_low);
	high = fmax(fmax(high, picture->core_high), picture->window_high);
	return axis_make(low, high + ROOM * (high - low), 8, true);
}

/* --- over time ---------------------------------------------------------------------- */

static void
put_heat_end(struct canvas *canvas, const struct axes *axes, double s)
{
	static const struct canvas_pen pen = {PANEL_FAINT, 0.8, DASH_SHORT};
	const struct canvas_letters letters = {
	    .size = PANEL_LABEL_SIZE, .rgb = PANEL_FAINT, .anchor = ANCHOR_END};
	struct canvas_point top = axes_point(axes, s, axes->y.high);
	struct canvas_point foot = axes_point(axes, s, axes->y.low);

	canvas_line(canvas, top, foot, &pen);
	canvas_text(canvas, (struct canvas_point){foot.x - 3, foot.y - 4}, &letters,
	    "heat ends");
}

/* The core's band as a bar with ends. */
static void
put_core_band(
    struct canvas *canvas, const struct axes *axes, const struct soak_picture *picture)
{
	static const struct canvas_pen pen = {CORE_RGB, 1.2, DASH_SOLID};
	const double end_s = picture->s[picture->count - 1];
	const double ends[] = {picture->core_low, picture->core_high};

	if (!isfinite(ends[0]) || !isfinite(ends[1]))
		return;
	canvas_line(canvas, axes_point(axes, end_s, ends[0]),
	    axes_point(axes, end_s, ends[1]), &pen);
	for (int i = 0; i < 2; i++) {
		struct canvas_point at = axes_point(axes, end_s, ends[i]);
		canvas_line(canvas, (struct canvas_point){at.x - 4, at.y},
		    (struct canvas_point){at.x + 4, at.y}, &pen);
	}
}

/* Whether a curve of the course passes through. */
static bool
is_crossed(const struct axes *axes, const struct soak_picture *picture,
    const struct canvas_box *box)
{
	const double *curves[] = {picture->top, picture->core, picture->bottom};

	for (size_t i = 0; i < picture->count * 3; i++) {
		if (!curves[i % 3])
			continue;
		struct canvas_point at =
		    axes_point(axes, picture->s[i / 3], curves[i % 3][i / 3]);
		if (at.x > box->left && at.x < box->right && at.y > box->top &&
		    at.y < box->bottom)
			return true;
	}
	return false;
}

/* In the corner of the window that is free, if one is; else in the first. */
static void
put_window_name(
    struct canvas *canvas, const struct axes *axes, const struct soak_picture *picture)
{
	static const char words[] = "forming window";
	const struct canvas_letters letters = {
	    .size = PANEL_LABEL_SIZE, .rgb = PANEL_FAINT};
	double width = canvas_text_width(&letters, words),
	       height = PANEL_LABEL_SIZE + 4;
	struct canvas_box free = {0};

	if (!isfinite(picture->window_low) || !isfinite(picture->window_high))
		return;
	for (int corner = 0; corner < 4; corner++) {
		struct canvas_point at =
		    axes_point(axes, corner / 2 ? picture->heat_end_s : axes->x.low,
			corner % 2 ? picture->window_low : picture->window_high);
		double left = corner / 2 ? at.x - width - 6 : at.x + 2;
		double top = corner % 2 ? at.y - height : at.y;
		struct canvas_box box = {left, top, left + width + 4, top + height};
		bool crossed = is_crossed(axes, picture, &box);
		if (corner == 0 || !crossed)
			free = box;
		if (!crossed)
			break;
	}
	canvas_text(canvas, (struct canvas_point){free.left + 2, free.bottom - 4},
	    &letters, words);
}

struct curve {
	const char *name;
	const double *values;
	struct canvas_pen pen;
	double label_y;
};

enum { CURVES = 3 };

/* Names beside the curves' ends, moved apart where they would touch. */
static void
put_names(struct canvas *canvas, const struct axes *axes,
    const struct soak_picture *picture, struct curve curves[static CURVES])
{
	struct curve *sorted[CURVES] = {NULL};
	int count = 0;

	for (int i = 0; i < CURVES; i++) {
		struct curve *curve = &curves[i];
		if (!curve->values)
			continue;
		int at = count++;
		curve->label_y =
		    axes_point(axes, axes->x.high, curve->values[picture->count - 1]).y;
		for (; at > 0 && sorted[at - 1]->label_y > curve->label_y; at--)
			sorted[at] = sorted[at - 1];
		sorted[at] = curve;
	}
	for (int i = 1; i < count; i++)
		sorted[i]->label_y =
		    fmax(sorted[i]->label_y, sorted[i - 1]->label_y + PANEL_LABEL_GAP);
	for (int i = 0; i < count; i++) {
		const struct canvas_letters letters = {
		    .size = PANEL_LABEL_SIZE, .rgb = sorted[i]->pen.rgb, .bold = true};
		struct canvas_point at = {
		    axes->box.right + 4, sorted[i]->label_y + PANEL_LABEL_SIZE * 0.36};
		canvas_text(canvas, at, &letters, sorted[i]->name);
	}
}

static void
put_course(struct canvas *canvas, const struct soak_picture *picture,
    const struct axis *temperature, const char *y_label)
{
	double begin_s = picture->s[0], end_s = picture->s[picture->count - 1];
	struct curve curves[CURVES] = {
	    {"top", picture->top, {TOP_RGB, 1.4, DASH_SOLID}, 0},
	    {"bottom", picture->bottom, {BOTTOM_RGB, 1.4, DASH_LONG}, 0},
	    {"core", picture->core, {CORE_RGB, 2.2, DASH_SOLID}, 0},
	};
	struct axes axes = {.box = course_box,
	    .x = axis_make(begin_s, end_s + ROOM * (end_s - begin_s), 5, false),
	    .y = *temperature,
	    .x_label = "time, s",
	    .y_label = y_label};

	panel_heading(canvas, &axes.box, "Faces and core over time");
	panel_window(canvas, &axes, picture);
	axes_grid(canvas, &axes);
	put_heat_end(canvas, &axes, picture->heat_end_s);
	for (int i = 0; i < CURVES; i++)
		if (curves[i].values)
			axes_curve(canvas, &axes, picture->s, curves[i].values,
			    picture->count, &curves[i].pen);
	put_core_band(canvas, &axes, picture);
	put_window_name(canvas, &axes, picture);
	axes_frame(canvas, &axes);
	put_names(canvas, &axes, picture, curves);
}

/* --- the whole ------------------------------------------------------------------------ */

static void
put_words(struct canvas *canvas, const struct soak_picture *picture)
{
	const struct canvas_letters title = {.size = 12,
					.rgb = PANEL_INK,
					.bold = true},
				    plain = {.size = 9, .rgb = PANEL_INK},
				    faint = {.size = 8, .rgb = PANEL_FAINT};
	bool way = picture->moment_count > 0 &&
	           panel_is_way(picture, picture->moment_count - 1);

	canvas_text(canvas, (struct canvas_point){14, 18}, &title, picture->title);
	canvas_text(canvas, (struct canvas_point){14, 33}, &plain, picture->summary);
	canvas_text(canvas, (struct canvas_point){14, 352}, &faint,
	    way ? "The darker, the later; dashed: on the way to the form.  " BAR
		: "The darker, the later.  " BAR);
	canvas_text(canvas, (struct canvas_point){14, 365}, &faint, picture->caution);
}

static void
draw(struct canvas *canvas, const void *what)
{
	const struct soak_picture *picture = what;
	char y_label[40];

	struct axis temperature = temperature_axis(picture);
	snprintf(y_label, sizeof y_label, "temperature, %s", picture->unit);
	canvas_fill(canvas, (struct canvas_box){0, 0, WIDTH, HEIGHT}, 0xffffff);
	put_words(canvas, picture);
	panel_profiles(canvas, picture, &temperature, y_label);
	put_course(canvas, picture, &temperature, y_label);
}

struct picture
soak_picture_make(const struct soak_picture *what, const char *name)
{
	assert(what->count > 0 && what->node_count > 1);
	return (struct picture){.name = name,
	    .title = what->title,
	    .description = what->summary,
	    .size = {WIDTH, HEIGHT},
	    .draw = draw,
	    .what = what};
}
