/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * PNG and PDF by cairo.  Letters are of the machine's usual sans-serif; without any font
 * cairo draws plain ones of its own.
 *
 * A sheet of a PDF is kept until the end, so that it can still be told then how many there
 * are.  A PDF bears no date: the same drawing gives the same bytes.
 */
#include "cli/picture/writer.h"

#include <cairo/cairo-pdf.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

enum { STRING_MAX_BYTES = 1 << 16 };
#define PIXELS 2.0 /* a point, of a PNG */

struct mark {
	int level;
	size_t sheet;
	double y;
	char *heading;
};

struct drawing {
	FILE *out;
	struct canvas_point size;
	char *title, *description; /* of a PDF; NULL: none */
	cairo_surface_t **sheets;
	size_t count, room;
	cairo_t *cairo; /* of the sheet that is drawn on */
	cairo_font_face_t *plain, *bold;
	struct text string; /* room for a clean one */
	struct mark *marks;
	size_t mark_count, mark_room;
	bool failed;
};

/* --- sheets ------------------------------------------------------------------------ */

static void
drop_cairo(struct drawing *drawing)
{
	if (!drawing->cairo)
		return;
	drawing->failed |= cairo_status(drawing->cairo) != CAIRO_STATUS_SUCCESS;
	cairo_destroy(drawing->cairo);
	drawing->cairo = NULL;
}

static void
turn_to(void *state, size_t sheet)
{
	struct drawing *drawing = state;
	cairo_font_options_t *options = cairo_font_options_create();

	drop_cairo(drawing);
	drawing->cairo = cairo_create(drawing->sheets[sheet]);
	/* the same widths at any size and on any sheet */
	cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
	cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
	cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
	cairo_set_font_options(drawing->cairo, options);
	cairo_font_options_destroy(options);
	cairo_set_line_join(drawing->cairo, CAIRO_LINE_JOIN_ROUND);
}

/* Takes the surface, and draws on it from now on. */
static bool
add_sheet(struct drawing *drawing, cairo_surface_t *surface)
{
	if (drawing->count == drawing->room) {
		size_t room = drawing->room ? drawing->room * 2 : 4;
		cairo_surface_t **sheets =
		    reallocarray(drawing->sheets, room, sizeof(cairo_surface_t *));
		if (!sheets) {
			cairo_surface_destroy(surface);
			drawing->failed = true;
			return false;
		}
		drawing->sheets = sheets;
		drawing->room = room;
	}
	drawing->sheets[drawing->count++] = surface;
	turn_to(drawing, drawing->count - 1);
	return true;
}

static bool
add_recording(struct drawing *drawing)
{
	const cairo_rectangle_t extent = {0, 0, drawing->size.x, drawing->size.y};

	return add_sheet(drawing,
	    cairo_recording_surface_create(CAIRO_CONTENT_COLOR_ALPHA, &extent));
}

static void
next_sheet(void *state)
{
	add_recording(state);
}

static size_t
sheets(const void *state)
{
	const struct drawing *drawing = state;

	return drawing->count;
}

/* --- drawing ------------------------------------------------------------------------ */

static void
set_colour(cairo_t *cairo, uint32_t rgb)
{
	cairo_set_source_rgb(cairo, (rgb >> 16 & 0xff) / 255.0,
	    (rgb >> 8 & 0xff) / 255.0, (rgb & 0xff) / 255.0);
}

static void
trace(cairo_t *cairo, const struct canvas_point *points, size_t count)
{
	cairo_new_path(cairo);
	for (size_t i = 0; i < count; i++)
		cairo_line_to(cairo, points[i].x, points[i].y);
}

static void
polyline(void *state, const struct canvas_point *points, size_t count,
    const struct canvas_pen *pen)
{
	struct drawing *drawing = state;
	const double *dash = writer_dash(pen->dash);

	trace(drawing->cairo, points, count);
	set_colour(drawing->cairo, pen->rgb);
	cairo_set_line_width(drawing->cairo, pen->width);
	cairo_set_dash(drawing->cairo, dash, dash ? WRITER_DASH : 0, 0);
	cairo_stroke(drawing->cairo);
}

static void
polygon(void *state, const struct canvas_point *points, size_t count, uint32_t rgb)
{
	struct drawing *drawing = state;

	trace(drawing->cairo, points, count);
	cairo_close_path(drawing->cairo);
	set_colour(drawing->cairo, rgb);
	cairo_fill(drawing->cairo);
}

/* cairo refuses what is no UTF-8, for good. */
static const char *
clean(struct drawing *drawing, const char *string)
{
	const char *from = string;
	uint32_t point;

	text_clear(&drawing->string);
	while ((point = utf8_next(&string)) != 0) {
		if (point == '\t' || point == '\n' || point == '\r')
			text_puts(&drawing->string, " ");
		else if (writer_is_no_character(point))
			text_puts(&drawing->string, "\xef\xbf\xbd"); /* U+FFFD */
		else
			text_add(&drawing->string, from, (size_t)(string - from));
		from = string;
	}
	drawing->failed |= drawing->string.failed;
	return drawing->string.bytes ? drawing->string.bytes : "";
}

static void
set_letters(struct drawing *drawing, const struct canvas_letters *letters)
{
	cairo_set_font_face(
	    drawing->cairo, letters->bold ? drawing->bold : drawing->plain);
	cairo_set_font_size(drawing->cairo, letters->size);
}

static double
measure_clean(struct drawing *drawing, const char *string)
{
	cairo_text_extents_t extents;

	cairo_text_extents(drawing->cairo, string, &extents);
	return extents.x_advance;
}

static double
measure(void *state, const struct canvas_letters *letters, const char *string)
{
	struct drawing *drawing = state;

	set_letters(drawing, letters);
	return measure_clean(drawing, clean(drawing, string));
}

static void
text(void *state, struct canvas_point at, const struct canvas_letters *letters,
    const char *string)
{
	static const double parts[] = {
	    [ANCHOR_START] = 0, [ANCHOR_MIDDLE] = 0.5, [ANCHOR_END] = 1};
	struct drawing *drawing = state;
	double back;

	string = clean(drawing, string);
	set_letters(drawing, letters);
	back = letters->anchor == ANCHOR_START
	           ? 0
	           : parts[letters->anchor] * measure_clean(drawing, string);
	cairo_save(drawing->cairo);
	cairo_translate(drawing->cairo, at.x, at.y);
	if (letters->upwards)
		cairo_rotate(drawing->cairo, -M_PI / 2);
	set_colour(drawing->cairo, letters->rgb);
	cairo_move_to(drawing->cairo, -back, 0);
	cairo_show_text(drawing->cairo, string);
	cairo_restore(drawing->cairo);
}

static void
clip(void *state, struct canvas_box box)
{
	struct drawing *drawing = state;

	cairo_save(drawing->cairo);
	cairo_rectangle(drawing->cairo, box.left, box.top, box.right - box.left,
	    box.bottom - box.top);
	cairo_clip(drawing->cairo);
}

static void
restore(void *state)
{
	struct drawing *drawing = state;

	cairo_restore(drawing->cairo);
}

static void
enter(void *state, struct canvas_point corner, double scale)
{
	struct drawing *drawing = state;

	cairo_save(drawing->cairo);
	cairo_translate(drawing->cairo, corner.x, corner.y);
	cairo_scale(drawing->cairo, scale, scale);
}

/* --- the whole ------------------------------------------------------------------------ */

static struct drawing *
drawing_new(FILE *out, struct canvas_point size)
{
	struct drawing *drawing = calloc(1, sizeof *drawing);

	if (!drawing)
		return NULL;
	drawing->out = out;
	drawing->size = size;
	text_init(&drawing->string, STRING_MAX_BYTES);
	drawing->plain = cairo_toy_font_face_create(
	    "sans-serif", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_NORMAL);
	drawing->bold = cairo_toy_font_face_create(
	    "sans-serif", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_BOLD);
	return drawing;
}

static int
drawing_free(struct drawing *drawing)
{
	drop_cairo(drawing);
	int code = drawing->failed ? ERROR_MEMORY : 0;
	for (size_t i = 0; i < drawing->count; i++)
		cairo_surface_destroy(drawing->sheets[i]);
	for (size_t i = 0; i < drawing->mark_count; i++)
		free(drawing->marks[i].heading);
	cairo_font_face_destroy(drawing->plain);
	cairo_font_face_destroy(drawing->bold);
	text_release(&drawing->string);
	free(drawing->title);
	free(drawing->description);
	free(drawing->sheets);
	free(drawing->marks);
	free(drawing);
	return code;
}

/* A failed write is for the caller to see, by ferror. */
static cairo_status_t
put_bytes(void *out, const unsigned char *bytes, unsigned int length)
{
	fwrite(bytes, 1, length, out);
	return CAIRO_STATUS_SUCCESS;
}

void *
canvas_png_new(FILE *out, struct canvas_point size)
{
	struct drawing *drawing = drawing_new(out, size);

	if (!drawing)
		return NULL;
	if (!add_sheet(
		drawing, cairo_image_surface_create(CAIRO_FORMAT_RGB24,
			     (int)ceil(size.x * PIXELS), (int)ceil(size.y * PIXELS)))) {
		drawing_free(drawing);
		return NULL;
	}
	set_colour(drawing->cairo, 0xffffff);
	cairo_paint(drawing->cairo);
	cairo_scale(drawing->cairo, PIXELS, PIXELS);
	return drawing;
}

static int
end_png(void *state)
{
	struct drawing *drawing = state;

	drop_cairo(drawing);
	if (!drawing->failed && cairo_surface_write_to_png_stream(drawing->sheets[0],
				    put_bytes, drawing->out) != CAIRO_STATUS_SUCCESS)
		drawing->failed = true;
	return drawing_free(drawing);
}

static char *
clean_copy(struct drawing *drawing, const char *string)
{
	char *copy = string ? strdup(clean(drawing, string)) : NULL;

	drawing->failed |= string && !copy;
	return copy;
}

void *
canvas_pdf_new(
    FILE *out, struct canvas_point size, const char *title, const char *description)
{
	struct drawing *drawing = drawing_new(out, size);

	if (!drawing)
		return NULL;
	drawing->title = clean_copy(drawing, title);
	drawing->description = clean_copy(drawing, description);
	if (drawing->failed || !add_recording(drawing)) {
		drawing_free(drawing);
		return NULL;
	}
	return drawing;
}

static void
mark(void *state, int level, double y, const char *heading)
{
	struct drawing *drawing = state;

	if (drawing->mark_count == drawing->mark_room) {
		size_t room = drawing->mark_room ? drawing->mark_room * 2 : 16;
		struct mark *marks = reallocarray(drawing->marks, room, sizeof *marks);
		if (!marks) {
			drawing->failed = true;
			return;
		}
		drawing->marks = marks;
		drawing->mark_room = room;
	}
	char *copy = clean_copy(drawing, heading);
	if (copy)
		drawing->marks[drawing->mark_count++] = (struct mark){
		    .level = level, .sheet = drawing->count, .y = y, .heading = copy};
}

/* The outline that viewers show beside the sheets. */
static void
put_outline(const struct drawing *drawing, cairo_surface_t *pdf)
{
	enum { LEVELS = 8 };
	int parent[LEVELS + 1] = {CAIRO_PDF_OUTLINE_ROOT};

	for (size_t i = 0; i < drawing->mark_count; i++) {
		const struct mark *at = &drawing->marks[i];
		int level = at->level < 0        ? 0
		            : at->level < LEVELS ? at->level
		                                 : LEVELS - 1;
		char place[80];
		snprintf(
		    place, sizeof place, "page=%zu pos=[0 %d]", at->sheet, (int)at->y);
		int id = cairo_pdf_surface_add_outline(
		    pdf, parent[level], at->heading, place, 0);
		for (int below = level + 1; below <= LEVELS; below++)
			parent[below] = id;
	}
}

static void
put_sheets(const struct drawing *drawing, cairo_surface_t *pdf)
{
	cairo_t *cairo = cairo_create(pdf);

	for (size_t i = 0; i < drawing->count; i++) {
		cairo_set_source_surface(cairo, drawing->sheets[i], 0, 0);
		cairo_paint(cairo);
		cairo_show_page(cairo);
	}
	cairo_destroy(cairo);
}

static int
end_pdf(void *state)
{
	struct drawing *drawing = state;

	drop_cairo(drawing);
	cairo_surface_t *pdf = cairo_pdf_surface_create_for_stream(
	    put_bytes, drawing->out, drawing->size.x, drawing->size.y);
	cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_CREATE_DATE, "");
	if (drawing->title)
		cairo_pdf_surface_set_metadata(
		    pdf, CAIRO_PDF_METADATA_TITLE, drawing->title);
	if (drawing->description)
		cairo_pdf_surface_set_metadata(
		    pdf, CAIRO_PDF_METADATA_SUBJECT, drawing->description);
	put_sheets(drawing, pdf);
	put_outline(drawing, pdf);
	cairo_surface_finish(pdf);
	drawing->failed |= cairo_surface_status(pdf) != CAIRO_STATUS_SUCCESS;
	cairo_surface_destroy(pdf);
	return drawing_free(drawing);
}

const struct canvas_writer canvas_png_writer = {
    .polyline = polyline,
    .polygon = polygon,
    .text = text,
    .clip = clip,
    .unclip = restore,
    .enter = enter,
    .leave = restore,
    .measure = measure,
    .end = end_png,
};

const struct canvas_writer canvas_pdf_writer = {
    .polyline = polyline,
    .polygon = polygon,
    .text = text,
    .clip = clip,
    .unclip = restore,
    .enter = enter,
    .leave = restore,
    .measure = measure,
    .next_sheet = next_sheet,
    .sheets = sheets,
    .turn_to = turn_to,
    .mark = mark,
    .end = end_pdf,
};
