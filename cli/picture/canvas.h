/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a drawing is drawn on: lines, filled areas and text on a sheet of points
 * (1/72 inch), x to the right, y downwards.  How it is written is the affair of a
 * format; a drawing knows none of them.
 *
 * Strings and points are lent for the call alone; strings are UTF-8, and what is none
 * is shown as U+FFFD.  Coordinates are finite (assert).  Nothing here reports a failed
 * write: look at ferror(out) afterwards.  One canvas belongs to one thread.
 */
#ifndef CLI_PICTURE_CANVAS_H
#define CLI_PICTURE_CANVAS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

struct canvas;

enum canvas_format {
	CANVAS_SVG,
	CANVAS_PNG, /* two pixels a point */
	CANVAS_PDF,
};

struct canvas_point {
	double x, y;
};

struct canvas_box {
	double left, top, right, bottom;
};

enum canvas_dash {
	DASH_SOLID,
	DASH_LONG,
	DASH_SHORT,
	DASH_DOTTED,
};

struct canvas_pen {
	uint32_t rgb; /* 0xRRGGBB */
	double width;
	enum canvas_dash dash;
};

enum canvas_anchor { /* where of the text the point is; always on its base line */
	ANCHOR_START,
	ANCHOR_MIDDLE,
	ANCHOR_END,
};

struct canvas_letters {
	double size;
	uint32_t rgb;
	enum canvas_anchor anchor;
	bool bold;
	bool upwards; /* read from below to above */
};

/*
 * Writes to `out`, which stays the caller's; title and description are for those who
 * cannot see it (NULL: none).  NULL when memory is short.
 */
struct canvas *canvas_new(FILE *out, enum canvas_format format,
    struct canvas_point size, const char *title, const char *description);

/* SVG as a part of an HTML or XML document.  `id`, which no other has there, begins all its
 * ids: letters, digits and hyphens. */
struct canvas *canvas_new_part(FILE *out, struct canvas_point size, const char *title,
    const char *description, const char *id);

/* Begins another sheet of the same size: CANVAS_PDF alone (assert). */
void canvas_next_sheet(struct canvas *canvas);

/* CANVAS_PDF: a heading at the height `y` of the sheet, for the list of them that viewers
 * show; level 0 is the highest.  Draws nothing. */
void canvas_mark(struct canvas *canvas, int level, double y, const char *heading);

/* CANVAS_PDF: canvas_end lets this be drawn on each sheet, on what is there already, when
 * their count is known; sheets from 1.  `what` must last until then. */
typedef void canvas_foot(
    struct canvas *canvas, const void *what, size_t sheet, size_t count);
void canvas_set_foot(struct canvas *canvas, canvas_foot *draw, const void *what);

/* Until canvas_leave everything is drawn as if the corner of the sheet were at `corner`, and
 * `scale` times as large.  Not one within another. */
void canvas_enter(struct canvas *canvas, struct canvas_point corner, double scale);
void canvas_leave(struct canvas *canvas);

/* Completes it and frees; 0, or ERROR_MEMORY when something was lost on the way. */
int canvas_end(struct canvas *canvas);

void canvas_line(struct canvas *canvas, struct canvas_point from,
    struct canvas_point to, const struct canvas_pen *pen);
void canvas_polyline(struct canvas *canvas, const struct canvas_point *points,
    size_t count, const struct canvas_pen *pen);
void canvas_polygon(struct canvas *canvas, const struct canvas_point *points,
    size_t count, uint32_t rgb);
void canvas_fill(struct canvas *canvas, struct canvas_box box, uint32_t rgb);
void canvas_text(struct canvas *canvas, struct canvas_point at,
    const struct canvas_letters *letters, const char *string);

/* Until canvas_unclip nothing is seen outside the box.  Not one within another. */
void canvas_clip(struct canvas *canvas, struct canvas_box box);
void canvas_unclip(struct canvas *canvas);

/* What belongs to the drawing could not be drawn: canvas_end says so. */
void canvas_lose(struct canvas *canvas);

/* How wide text will about be: fonts differ, so leave room. */
double canvas_text_width(const struct canvas_letters *letters, const char *string);

/* How wide it is on this canvas: exact but for SVG, where the reader's fonts decide. */
double canvas_measure(
    struct canvas *canvas, const struct canvas_letters *letters, const char *string);

#endif
