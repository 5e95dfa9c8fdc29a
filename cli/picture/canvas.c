/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/canvas.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

#include "cli/picture/writer.h"
#include "daemon/base/error.h"
#include "daemon/base/utf8.h"

struct canvas {
	const struct canvas_writer *writer;
	void *state;
	canvas_foot *foot; /* NULL: none */
	const void *foot_of;
	bool clipped, entered, lost;
};

static struct canvas *
start(const struct canvas_writer *writer, void *state)
{
	struct canvas *canvas = state ? calloc(1, sizeof *canvas) : NULL;

	if (!canvas) {
		if (state)
			writer->end(state);
		return NULL;
	}
	canvas->writer = writer;
	canvas->state = state;
	return canvas;
}

struct canvas *
canvas_new(FILE *out, enum canvas_format format, struct canvas_point size,
    const char *title, const char *description)
{
	switch (format) {
	case CANVAS_SVG:
		return start(&canvas_svg_writer,
		    canvas_svg_new(out, size, title, description, NULL));
	case CANVAS_PNG:
		return start(&canvas_png_writer, canvas_png_new(out, size));
	case CANVAS_PDF:
		return start(
		    &canvas_pdf_writer, canvas_pdf_new(out, size, title, description));
	}
	return NULL;
}

struct canvas *
canvas_new_part(FILE *out, struct canvas_point size, const char *title,
    const char *description, const char *id)
{
	return start(
	    &canvas_svg_writer, canvas_svg_new(out, size, title, description, id));
}

static void
put_feet(struct canvas *canvas)
{
	size_t count = canvas->writer->sheets(canvas->state);

	for (size_t i = 0; i < count; i++) {
		canvas->writer->turn_to(canvas->state, i);
		canvas->foot(canvas, canvas->foot_of, i + 1, count);
	}
}

int
canvas_end(struct canvas *canvas)
{
	assert(!canvas->clipped && !canvas->entered);
	if (canvas->foot)
		put_feet(canvas);
	int code = canvas->writer->end(canvas->state);

	if (canvas->lost)
		code = ERROR_MEMORY;
	free(canvas);
	return code;
}

void
canvas_next_sheet(struct canvas *canvas)
{
	assert(!canvas->clipped && !canvas->entered && canvas->writer->next_sheet);
	canvas->writer->next_sheet(canvas->state);
}

void
canvas_mark(struct canvas *canvas, int level, double y, const char *heading)
{
	assert(canvas->writer->mark);
	canvas->writer->mark(canvas->state, level, y, heading);
}

void
canvas_set_foot(struct canvas *canvas, canvas_foot *draw, const void *what)
{
	assert(canvas->writer->sheets);
	canvas->foot = draw;
	canvas->foot_of = what;
}

void
canvas_enter(struct canvas *canvas, struct canvas_point corner, double scale)
{
	assert(!canvas->clipped && !canvas->entered);
	assert(isfinite(corner.x) && isfinite(corner.y) && scale > 0);
	canvas->entered = true;
	canvas->writer->enter(canvas->state, corner, scale);
}

void
canvas_leave(struct canvas *canvas)
{
	assert(canvas->entered && !canvas->clipped);
	canvas->entered = false;
	canvas->writer->leave(canvas->state);
}

void
canvas_lose(struct canvas *canvas)
{
	canvas->lost = true;
}

static void
assert_finite(const struct canvas_point *points, size_t count)
{
	for (size_t i = 0; i < count; i++)
		assert(isfinite(points[i].x) && isfinite(points[i].y));
}

void
canvas_line(struct canvas *canvas, struct canvas_point from, struct canvas_point to,
    const struct canvas_pen *pen)
{
	const struct canvas_point points[] = {from, to};

	canvas_polyline(canvas, points, 2, pen);
}

void
canvas_polyline(struct canvas *canvas, const struct canvas_point *points, size_t count,
    const struct canvas_pen *pen)
{
	assert_finite(points, count);
	if (count >= 2)
		canvas->writer->polyline(canvas->state, points, count, pen);
}

void
canvas_polygon(struct canvas *canvas, const struct canvas_point *points, size_t count,
    uint32_t rgb)
{
	assert_finite(points, count);
	if (count >= 3)
		canvas->writer->polygon(canvas->state, points, count, rgb);
}

void
canvas_fill(struct canvas *canvas, struct canvas_box box, uint32_t rgb)
{
	const struct canvas_point corners[] = {{box.left, box.top},
	    {box.right, box.top}, {box.right, box.bottom}, {box.left, box.bottom}};

	canvas_polygon(canvas, corners, 4, rgb);
}

void
canvas_text(struct canvas *canvas, struct canvas_point at,
    const struct canvas_letters *letters, const char *string)
{
	assert_finite(&at, 1);
	canvas->writer->text(canvas->state, at, letters, string);
}

void
canvas_clip(struct canvas *canvas, struct canvas_box box)
{
	assert(!canvas->clipped);
	canvas->clipped = true;
	canvas->writer->clip(canvas->state, box);
}

void
canvas_unclip(struct canvas *canvas)
{
	assert(canvas->clipped);
	canvas->clipped = false;
	canvas->writer->unclip(canvas->state);
}

/* In parts of the size, of a usual sans-serif. */
#define LETTER_WIDTH 0.56
#define BOLD_WIDTH 0.62

double
canvas_text_width(const struct canvas_letters *letters, const char *string)
{
	int count = 0;

	while (utf8_next(&string) != 0)
		count++;
	return count * letters->size * (letters->bold ? BOLD_WIDTH : LETTER_WIDTH);
}

double
canvas_measure(
    struct canvas *canvas, const struct canvas_letters *letters, const char *string)
{
	if (!canvas->writer->measure)
		return canvas_text_width(letters, string);
	return canvas->writer->measure(canvas->state, letters, string);
}

/* --- what formats share ------------------------------------------------------------ */

const double *
writer_dash(enum canvas_dash dash)
{
	static const double lengths[][WRITER_DASH] = {
	    [DASH_LONG] = {7, 3}, [DASH_SHORT] = {3, 2.5}, [DASH_DOTTED] = {1, 2.5}};

	return dash == DASH_SOLID ? NULL : lengths[dash];
}
