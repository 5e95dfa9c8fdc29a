/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/soak_panel.h"

#include <math.h>
#include <stdlib.h>

static const struct canvas_box profile_box = {46, 56, 286, 310};

#define WINDOW_RGB 0xe4ebe0
#define WAY_RGB 0xa04000 /* moments on the way to the form */

/* --- what both panels share ---------------------------------------------------- */

void
panel_window(
    struct canvas *canvas, const struct axes *axes, const struct soak_picture *picture)
{
	canvas_fill(canvas, axes->box, 0xffffff);
	if (isfinite(picture->window_low) && isfinite(picture->window_high))
		axes_band(canvas, axes, picture->window_low, picture->window_high,
		    WINDOW_RGB);
}

void
panel_heading(struct canvas *canvas, const struct canvas_box *box, const char *heading)
{
	const struct canvas_letters letters = {
	    .size = 9, .rgb = PANEL_INK, .bold = true};

	canvas_text(
	    canvas, (struct canvas_point){box->left, box->top - 6}, &letters, heading);
}

/* --- through the thickness ------------------------------------------------------ */

bool
panel_is_way(const struct soak_picture *picture, size_t moment)
{
	return picture->moment_s[moment] > picture->heat_end_s + 1e-6;
}

/* The later the darker; on the way to the form dashed. */
static struct canvas_pen
moment_pen(const struct soak_picture *picture, size_t moment)
{
	static const int early[] = {0x9f, 0xc3, 0xd8}, late[] = {0x08, 0x26, 0x4a};
	struct canvas_pen pen = {0, 1.4, DASH_SOLID};
	size_t last = picture->moment_count - 1;
	double part = last > 0 ? (double)moment / (double)last : 1;

	if (panel_is_way(picture, moment))
		return (struct canvas_pen){WAY_RGB, 1.6, DASH_LONG};
	for (int i = 0; i < 3; i++) {
		double shade = early[i] + part * (late[i] - early[i]);
		pen.rgb = pen.rgb << 8 | (uint32_t)lround(shade);
	}
	return pen;
}

static struct canvas_point
profile_point(const struct axes *axes, const struct soak_picture *picture,
    size_t moment, size_t node)
{
	double depth_mm =
	    picture->thickness_mm * (double)node / (double)(picture->node_count - 1);

	return axes_point(
	    axes, depth_mm, picture->profile[moment * picture->node_count + node]);
}

static void
put_profile(struct canvas *canvas, const struct axes *axes,
    const struct soak_picture *picture, size_t moment)
{
	struct canvas_pen pen = moment_pen(picture, moment);
	struct canvas_point *points = calloc(picture->node_count, sizeof *points);

	if (!points) {
		canvas_lose(canvas);
		return;
	}
	for (size_t node = 0; node < picture->node_count; node++)
		points[node] = profile_point(axes, picture, moment, node);
	canvas_clip(canvas, axes->box);
	canvas_polyline(canvas, points, picture->node_count, &pen);
	canvas_unclip(canvas);
	free(points);
}

enum { LABELS_MOST = 32 };

struct labels {
	size_t count;
	double y[LABELS_MOST];
};

static bool
has_room(const struct labels *labels, double y)
{
	for (size_t i = 0; i < labels->count; i++)
		if (fabs(labels->y[i] - y) < PANEL_LABEL_GAP)
			return false;
	return labels->count < LABELS_MOST;
}

/* On the curve itself: in the middle, or near the face for one on the way to the form,
 * where those differ most.  Not where it would stand on another. */
static void
put_moment_label(struct canvas *canvas, const struct axes *axes,
    const struct soak_picture *picture, size_t moment, struct labels *labels)
{
	bool way = panel_is_way(picture, moment);
	size_t node = way ? picture->node_count / 10 : picture->node_count / 2;
	struct canvas_point at = profile_point(axes, picture, moment, node);
	const struct canvas_letters letters = {.size = PANEL_LABEL_SIZE,
	    .rgb = PANEL_INK,
	    .anchor = ANCHOR_MIDDLE,
	    .bold = moment + 1 == picture->moment_count};
	char words[40];

	if (!has_room(labels, at.y))
		return;
	labels->y[labels->count++] = at.y;
	double s = picture->moment_s[moment];
	snprintf(words, sizeof words, "%.*f s", fabs(s - round(s)) < 1e-6 ? 0 : 1, s);
	double half = canvas_text_width(&letters, words) / 2;
	canvas_fill(canvas,
	    (struct canvas_box){at.x - half - 1, at.y - PANEL_LABEL_SIZE / 2.0,
		at.x + half + 1, at.y + PANEL_LABEL_SIZE / 2.0},
	    0xffffff);
	at.y += PANEL_LABEL_SIZE * 0.36;
	canvas_text(canvas, at, &letters, words);
}

/* The last first, then the start: what is between gives way. */
static void
put_moment_labels(
    struct canvas *canvas, const struct axes *axes, const struct soak_picture *picture)
{
	struct labels middle = {0}, face = {0};
	size_t last = picture->moment_count - 1;

	for (size_t i = 0; i <= last; i++) {
		size_t moment = i == 0 ? last : i == 1 ? 0 : last + 1 - i;
		put_moment_label(canvas, axes, picture, moment,
		    panel_is_way(picture, moment) ? &face : &middle);
	}
}

void
panel_profiles(struct canvas *canvas, const struct soak_picture *picture,
    const struct axis *temperature, const char *y_label)
{
	struct axes axes = {.box = profile_box,
	    .x = axis_make(0, picture->thickness_mm, 6, false),
	    .y = *temperature,
	    .x_label = "depth from the top face, mm",
	    .y_label = y_label};

	panel_heading(canvas, &axes.box, "Through the thickness");
	panel_window(canvas, &axes, picture);
	axes_grid(canvas, &axes);
	for (size_t i = 0; i < picture->moment_count; i++)
		put_profile(canvas, &axes, picture, i);
	if (picture->moment_count > 0)
		put_moment_labels(canvas, &axes, picture);
	axes_frame(canvas, &axes);
}
