/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What PNG and PDF share: sheets that cairo draws on.  Letters are of the machine's usual
 * sans-serif; without any font cairo draws plain ones of its own, which know ASCII alone.
 * For the files of this folder alone.
 */
#ifndef CLI_PICTURE_INK_H
#define CLI_PICTURE_INK_H

#include <cairo/cairo.h>

#include "cli/picture/writer.h"
#include "daemon/base/text.h"

struct ink {
	FILE *out;
	struct canvas_point size;
	cairo_surface_t **sheets;
	size_t count, room;
	cairo_t *cairo; /* of the sheet that is drawn on; NULL: none */
	cairo_font_face_t *plain, *bold;
	struct text string; /* room for a clean one */
	bool failed;        /* memory was short: something is lost */
};

/* Without a sheet; ink_release also after a failure. */
void ink_init(struct ink *ink, FILE *out, struct canvas_point size);
void ink_release(struct ink *ink);

/* Takes the surface as the last sheet, and draws on it from now on. */
bool ink_add_sheet(struct ink *ink, cairo_surface_t *surface);

/* Draws on this sheet from now on, over what is there. */
void ink_turn_to(struct ink *ink, size_t sheet);

/* Nothing is drawn any more. */
void ink_dry(struct ink *ink);

/* The string as cairo takes it, lent until the next. */
const char *ink_clean(struct ink *ink, const char *string);

void ink_set_colour(struct ink *ink, uint32_t rgb);

/* For cairo: `ink` is a struct ink.  A failed write is for the caller to see, by ferror. */
cairo_status_t ink_write(void *ink, const unsigned char *bytes, unsigned int length);

/* As struct canvas_writer has them; `state` is a struct ink, or begins with one. */
void ink_polyline(void *state, const struct canvas_point *points, size_t count,
    const struct canvas_pen *pen);
void ink_polygon(
    void *state, const struct canvas_point *points, size_t count, uint32_t rgb);
void ink_text(void *state, struct canvas_point at, const struct canvas_letters *letters,
    const char *string);
void ink_clip(void *state, struct canvas_box box);
void ink_enter(void *state, struct canvas_point corner, double scale);
void ink_restore(void *state); /* leaves either */
double ink_measure(
    void *state, const struct canvas_letters *letters, const char *string);

#endif
