/* SPDX-License-Identifier: GPL-3.0-or-later */
/* PNG by cairo: white where nothing is drawn. */
#include <math.h>
#include <stdlib.h>

#include "cli/picture/ink.h"
#include "daemon/base/error.h"

#define PIXELS 2.0 /* a point */

void *
canvas_png_new(FILE *out, struct canvas_point size)
{
	struct ink *ink = malloc(sizeof *ink);

	if (!ink)
		return NULL;
	ink_init(ink, out, size);
	if (!ink_add_sheet(
		ink, cairo_image_surface_create(CAIRO_FORMAT_RGB24,
			 (int)ceil(size.x * PIXELS), (int)ceil(size.y * PIXELS)))) {
		ink_release(ink);
		free(ink);
		return NULL;
	}
	ink_set_colour(ink, 0xffffff);
	cairo_paint(ink->cairo);
	cairo_scale(ink->cairo, PIXELS, PIXELS);
	return ink;
}

static int
png_end(void *state)
{
	struct ink *ink = state;

	ink_dry(ink);
	if (!ink->failed && cairo_surface_write_to_png_stream(
				ink->sheets[0], ink_write, ink) != CAIRO_STATUS_SUCCESS)
		ink->failed = true;
	int code = ink->failed ? ERROR_MEMORY : 0;
	ink_release(ink);
	free(ink);
	return code;
}

const struct canvas_writer canvas_png_writer = {
    .polyline = ink_polyline,
    .polygon = ink_polygon,
    .text = ink_text,
    .clip = ink_clip,
    .unclip = ink_restore,
    .enter = ink_enter,
    .leave = ink_restore,
    .measure = ink_measure,
    .end = png_end,
};
