/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a format has to do for the canvas.  For the files of this folder alone. */
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
	int (*end)(void *state); /* completes, frees `state`; 0 or ERROR_MEMORY */
};

/* The state for its writer, or NULL when memory is short. */
void *canvas_svg_new(
    FILE *out, struct canvas_point size, const char *title, const char *description);
extern const struct canvas_writer canvas_svg_writer;

#endif
