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
	bool clipped, lost;
};

struct canvas *
canvas_new(FILE *out, enum canvas_format format, struct canvas_point size,
    const char *title, const char *description)
{
	struct canvas *canvas = calloc(1, sizeof *canvas);

	if (!canvas)
		return NULL;
	switch (format) {
	case CANVAS_SVG:
		canvas->writer = &canvas_svg_writer;
		canvas->state = canvas_svg_new(out, size, title, description);
		break;
	case CANVAS_PNG:
	case CANVAS_PDF:
		break;
	}
	if (!canvas->state) {
		free(canvas);
		return NULL;
	}
	return canvas;
}

int
canvas_end(struct canvas *canvas)
{
	assert(!canvas->clipped);
	int code = canvas->writer->end(canvas->state);

	if (canvas->lost)
		code = ERROR_MEMORY;
	free(canvas);
	return code;
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
