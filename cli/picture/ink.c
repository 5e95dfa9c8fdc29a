/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/ink.h"

#include <math.h>
#include <stdlib.h>

#include "daemon/base/utf8.h"

enum { STRING_MAX_BYTES = 1 << 16 };

/* --- sheets ------------------------------------------------------------------------ */

void
ink_dry(struct ink *ink)
{
	if (!ink->cairo)
		return;
	ink->failed |= cairo_status(ink->cairo) != CAIRO_STATUS_SUCCESS;
	cairo_destroy(ink->cairo);
	ink->cairo = NULL;
}

void
ink_turn_to(struct ink *ink, size_t sheet)
{
	cairo_font_options_t *options = cairo_font_options_create();

	ink_dry(ink);
	ink->cairo = cairo_create(ink->sheets[sheet]);
	/* the same widths at any size and on any sheet */
	cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
	cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
	cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
	cairo_set_font_options(ink->cairo, options);
	cairo_font_options_destroy(options);
	cairo_set_line_join(ink->cairo, CAIRO_LINE_JOIN_ROUND);
}

bool
ink_add_sheet(struct ink *ink, cairo_surface_t *surface)
{
	if (ink->count == ink->room) {
		size_t room = ink->room ? ink->room * 2 : 4;
		cairo_surface_t **sheets =
		    reallocarray(ink->sheets, room, sizeof(cairo_surface_t *));
		if (!sheets) {
			cairo_surface_destroy(surface);
			ink->failed = true;
			return false;
		}
		ink->sheets = sheets;
		ink->room = room;
	}
	ink->sheets[ink->count++] = surface;
	ink_turn_to(ink, ink->count - 1);
	return true;
}

/* --- drawing ------------------------------------------------------------------------ */

void
ink_set_colour(struct ink *ink, uint32_t rgb)
{
	cairo_set_source_rgb(ink->cairo, (rgb >> 16 & 0xff) / 255.0,
	    (rgb >> 8 & 0xff) / 255.0, (rgb & 0xff) / 255.0);
}

static void
trace(cairo_t *cairo, const struct canvas_point *points, size_t count)
{
	cairo_new_path(cairo);
	for (size_t i = 0; i < count; i++)
		cairo_line_to(cairo, points[i].x, points[i].y);
}

void
ink_polyline(void *state, const struct canvas_point *points, size_t count,
    const struct canvas_pen *pen)
{
	struct ink *ink = state;
	const double *dash = writer_dash(pen->dash);

	trace(ink->cairo, points, count);
	ink_set_colour(ink, pen->rgb);
	cairo_set_line_width(ink->cairo, pen->width);
	cairo_set_dash(ink->cairo, dash, dash ? WRITER_DASH : 0, 0);
	cairo_stroke(ink->cairo);
}

void
ink_polygon(void *state, const struct canvas_point *points, size_t count, uint32_t rgb)
{
	struct ink *ink = state;

	trace(ink->cairo, points, count);
	cairo_close_path(ink->cairo);
	ink_set_colour(ink, rgb);
	cairo_fill(ink->cairo);
}

/* cairo refuses what is no UTF-8, for good. */
const char *
ink_clean(struct ink *ink, const char *string)
{
	const char *from = string;
	uint32_t point;

	text_clear(&ink->string);
	while ((point = utf8_next(&string)) != 0) {
		if (point == '\t' || point == '\n' || point == '\r')
			text_puts(&ink->string, " ");
		else if (!utf8_is_shown(point))
			text_puts(&ink->string, "\xef\xbf\xbd"); /* U+FFFD */
		else
			text_add(&ink->string, from, (size_t)(string - from));
		from = string;
	}
	ink->failed |= ink->string.failed;
	return ink->string.bytes ? ink->string.bytes : "";
}

static void
set_letters(struct ink *ink, const struct canvas_letters *letters)
{
	cairo_set_font_face(ink->cairo, letters->bold ? ink->bold : ink->plain);
	cairo_set_font_size(ink->cairo, letters->size);
}

static double
measure_clean(struct ink *ink, const char *string)
{
	cairo_text_extents_t extents;

	cairo_text_extents(ink->cairo, string, &extents);
	return extents.x_advance;
}

double
ink_measure(void *state, const struct canvas_letters *letters, const char *string)
{
	struct ink *ink = state;

	set_letters(ink, letters);
	return measure_clean(ink, ink_clean(ink, string));
}

void
ink_text(void *state, struct canvas_point at, const struct canvas_letters *letters,
    const char *string)
{
	static const double parts[] = {
	    [ANCHOR_START] = 0, [ANCHOR_MIDDLE] = 0.5, [ANCHOR_END] = 1};
	struct ink *ink = state;
	double back;

	string = ink_clean(ink, string);
	set_letters(ink, letters);
	back = letters->anchor == ANCHOR_START
	           ? 0
	           : parts[letters->anchor] * measure_clean(ink, string);
	cairo_save(ink->cairo);
	cairo_translate(ink->cairo, at.x, at.y);
	if (letters->upwards)
		cairo_rotate(ink->cairo, -M_PI / 2);
	ink_set_colour(ink, letters->rgb);
	cairo_move_to(ink->cairo, -back, 0);
	cairo_show_text(ink->cairo, string);
	cairo_restore(ink->cairo);
}

void
ink_clip(void *state, struct canvas_box box)
{
	struct ink *ink = state;

	cairo_save(ink->cairo);
	cairo_rectangle(
	    ink->cairo, box.left, box.top, box.right - box.left, box.bottom - box.top);
	cairo_clip(ink->cairo);
}

void
ink_restore(void *state)
{
	struct ink *ink = state;

	cairo_restore(ink->cairo);
}

void
ink_enter(void *state, struct canvas_point corner, double scale)
{
	struct ink *ink = state;

	cairo_save(ink->cairo);
	cairo_translate(ink->cairo, corner.x, corner.y);
	cairo_scale(ink->cairo, scale, scale);
}

/* --- the whole ------------------------------------------------------------------------ */

void
ink_init(struct ink *ink, FILE *out, struct canvas_point size)
{
	*ink = (struct ink){.out = out, .size = size};
	text_init(&ink->string, STRING_MAX_BYTES);
	ink->plain = cairo_toy_font_face_create(
	    "sans-serif", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_NORMAL);
	ink->bold = cairo_toy_font_face_create(
	    "sans-serif", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_BOLD);
}

void
ink_release(struct ink *ink)
{
	ink_dry(ink);
	for (size_t i = 0; i < ink->count; i++)
		cairo_surface_destroy(ink->sheets[i]);
	cairo_font_face_destroy(ink->plain);
	cairo_font_face_destroy(ink->bold);
	text_release(&ink->string);
	free(ink->sheets);
}

cairo_status_t
ink_write(void *ink, const unsigned char *bytes, unsigned int length)
{
	const struct ink *of = ink;

	fwrite(bytes, 1, length, of->out);
	return CAIRO_STATUS_SUCCESS;
}
