/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One drawing that can stand alone as a file or in a page: whoever makes a page hands one
 * over, and each format of pages takes it as it can.
 */
#ifndef CLI_PICTURE_PICTURE_H
#define CLI_PICTURE_PICTURE_H

#include "cli/picture/canvas.h"

struct picture {
	const char
	    *name; /* to ask for it by: "cycle_s", "oven"; letters, digits, - _ */
	const char *title; /* for those who cannot see it, in a word or two */
	const char
	    *description; /* likewise: what it shows, in sentences with its figures */
	struct canvas_point size; /* of the sheet, points */
	/* Its words over the drawing, and how far down they reach: a narrow screen shows them
	 * as words of its own.  NULL, 0: none. */
	const char *heading, *sentence;
	double head;
	bool in_time; /* the newest stands at the right */
	/* Draws within the size; nothing else is on the canvas there. */
	void (*draw)(struct canvas *canvas, const void *what);
	const void *what;
};

/* The whole of it alone; 0, or ERROR_MEMORY. */
int picture_write(const struct picture *picture, enum canvas_format format, FILE *out);

/* As SVG in a document; `id` as for canvas_new_part. */
int picture_write_part(const struct picture *picture, const char *id, FILE *out);

/* On a canvas that has more, its corner at `corner`, so much larger. */
void picture_put(const struct picture *picture, struct canvas *canvas,
    struct canvas_point corner, double scale);

#endif
