/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a format has to do for the canvas, and what formats share.  For the files of this
 * folder alone. */
#ifndef CLI_PICTURE_WRITER_H
#define CLI_PICTURE_WRITER_H

#include "cli/picture/canvas.h"

struct canvas_writer {
	void (*polyline)(void *state, const struct canvas_point *points, size_t count,
	    const struct canvas_pen *pen);
	void (*polygon)(
	    void *state, const struct canvas_point *points, size_t count, uint32_t rgb);
	void (*text)(void *state, struct canvas_point at,
	    const struct canvas_letters *letters, const char *string);
	void (*clip)(void *state, struct canvas_box box);
	void (*unclip)(void *state);
	void (*enter)(void *state, struct canvas_point corner, double scale);
	void (*leave)(void *state);
	/* NULL: about, as fonts usually are. */
	double (*measure)(
	    void *state, const struct canvas_letters *letters, const char *string);
	/* Sheets: NULL of all where there is one alone. */
	void (*next_sheet)(void *state);
	size_t (*sheets)(const void *state);
	void (*turn_to)(void *state, size_t sheet);
	void (*mark)(void *state, int level, double y, const char *heading);
	int (*end)(void *state); /* completes, frees `state`; 0 or ERROR_MEMORY */
};

/* The state for its writer, or NULL when memory is short.  `id` NULL: an SVG file; else a
 * part of a document. */
void *canvas_svg_new(FILE *out, struct canvas_point size, const char *title,
    const char *description, const char *id);
void *canvas_png_new(FILE *out, struct canvas_point size);
void *canvas_pdf_new(
    FILE *out, struct canvas_point size, const char *title, const char *description);
extern const struct canvas_writer canvas_svg_writer, canvas_png_writer,
    canvas_pdf_writer;

/* Lengths of a dash and of the gap after it, points; NULL: no dashes. */
enum { WRITER_DASH = 2 };
const double *writer_dash(enum canvas_dash dash);

#endif
