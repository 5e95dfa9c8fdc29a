/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/glyph.h"

#include <math.h>
#include <stdarg.h>

#include "cli/picture/lettering.h"
#include "cli/picture/palette.h"

enum { CORNERS = 10 };

/* A regular one, closed: the first corner again at the end. */
static void
corners_of(struct canvas_point at, double radius, int count,
    struct canvas_point corners[static CORNERS + 1])
{
	const double round = 6.283185307179586;

	for (int i = 0; i <= count; i++) {
		double angle = round * (i % count) / count;
		corners[i] = (struct canvas_point){
		    at.x + radius * sin(angle), at.y - radius * cos(angle)};
	}
}

static void
put_polygon(struct canvas *canvas, struct canvas_point at, double radius, int count,
    uint32_t rgb)
{
	struct canvas_point corners[CORNERS + 1];

	corners_of(at, radius, count, corners);
	canvas_polygon(canvas, corners, (size_t)count, rgb);
}

static void
put_outline(struct canvas *canvas, struct canvas_point at, double radius, int count,
    uint32_t rgb)
{
	const struct canvas_pen pen = {rgb, 1.2, DASH_SOLID};
	struct canvas_point corners[CORNERS + 1];

	corners_of(at, radius, count, corners);
	canvas_polyline(canvas, corners, (size_t)count + 1, &pen);
}

static void
put_triangle(struct canvas *canvas, struct canvas_point at, double radius, double up,
    uint32_t rgb)
{
	const struct canvas_point corners[] = {{at.x, at.y - up * radius},
	    {at.x + radius * 0.8, at.y + up * radius * 0.7},
	    {at.x - radius * 0.8, at.y + up * radius * 0.7}};

	canvas_polygon(canvas, corners, 3, rgb);
}

static void
put_stroke(struct canvas *canvas, struct canvas_point at, double dx, double dy,
    double width, uint32_t rgb)
{
	const struct canvas_pen pen = {rgb, width, DASH_SOLID};

	canvas_line(canvas, (struct canvas_point){at.x - dx, at.y - dy},
	    (struct canvas_point){at.x + dx, at.y + dy}, &pen);
}

void
glyph_put(struct canvas *canvas, enum glyph glyph, struct canvas_point at,
    double radius, uint32_t rgb)
{
	switch (glyph) {
	case GLYPH_DOT:
		put_polygon(canvas, at, radius, radius < 1.5 ? 6 : CORNERS, rgb);
		break;
	case GLYPH_DIAMOND:
		put_polygon(canvas, at, radius, 4, rgb);
		break;
	case GLYPH_RING:
		put_outline(canvas, at, radius, CORNERS, rgb);
		break;
	case GLYPH_HOLLOW:
		put_polygon(canvas, at, radius, 4, PALETTE_GROUND);
		put_outline(canvas, at, radius, 4, rgb);
		break;
	case GLYPH_CROSS:
		put_stroke(canvas, at, radius * 0.7, radius * 0.7, 1.4, rgb);
		put_stroke(canvas, at, radius * 0.7, -radius * 0.7, 1.4, rgb);
		break;
	case GLYPH_UP:
		put_triangle(canvas, at, radius, 1, rgb);
		break;
	case GLYPH_DOWN:
		put_triangle(canvas, at, radius, -1, rgb);
		break;
	case GLYPH_STROKE:
		put_stroke(canvas, at, 0, radius, 1, rgb);
		break;
	case GLYPH_BAR:
		canvas_fill(canvas,
		    (struct canvas_box){
			at.x - radius, at.y - radius, at.x + radius, at.y + radius},
		    rgb);
		break;
	case GLYPH_LINE:
		put_stroke(canvas, at, radius, 0, 2, rgb);
		break;
	}
}

/* --- the key ----------------------------------------------------------------------- */

static const struct canvas_letters letters = {
    .size = LETTERING_SMALL, .rgb = PALETTE_FAINT};

void
key_add(struct key *key, enum glyph glyph, double radius, uint32_t rgb,
    const char *format, ...)
{
	va_list arguments;

	if (key->count == KEY_MOST)
		return;
	struct key_entry *entry = &key->list[key->count++];
	*entry = (struct key_entry){.glyph = glyph, .radius = radius, .rgb = rgb};
	va_start(arguments, format);
	vsnprintf(entry->words, sizeof entry->words, format, arguments);
	va_end(arguments);
}

/* Goes through it; draws where there is a canvas.  Its height. */
static double
go_through(struct canvas *canvas, const struct key *key, double top)
{
	struct canvas_point at = {SHEET_EDGE, top + LETTERING_SMALL};

	for (size_t i = 0; i < key->count; i++) {
		const struct key_entry *entry = &key->list[i];
		double lead = 2 * entry->radius + 5;
		double wide = lead + canvas_text_width(&letters, entry->words);
		if (i > 0 && at.x + wide > SHEET_WIDTH - SHEET_EDGE)
			at = (struct canvas_point){SHEET_EDGE, at.y + LETTERING_LINE};
		if (canvas) {
			glyph_put(canvas, entry->glyph,
			    (struct canvas_point){
				at.x + entry->radius, at.y - LETTERING_RISE},
			    entry->radius, entry->rgb);
			canvas_text(canvas, (struct canvas_point){at.x + lead, at.y},
			    &letters, entry->words);
		}
		at.x += wide + 14;
	}
	return key->count > 0 ? at.y + 4 - top : 0;
}

double
key_height(const struct key *key)
{
	return go_through(NULL, key, 0);
}

void
key_put(struct canvas *canvas, const struct key *key, double top)
{
	go_through(canvas, key, top);
}
