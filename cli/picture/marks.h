/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Changes and notes of a run over its picture: a line each, labels above that never stand on
 * each other; where there are too many, numbers above and what they mean in a legend below.
 * Likewise what stands under the axis.  For the pictures of runs.
 */
#ifndef CLI_PICTURE_MARKS_H
#define CLI_PICTURE_MARKS_H

#include "cli/picture/axes.h"
#include "cli/picture/lettering.h"
#include "cli/picture/run_picture.h"

enum mark_place {
	MARK_ABOVE,    /* its own words, or a number */
	MARK_SWALLOWED /* within the number of an earlier one: "4-6" */
};

struct mark_label {
	double x, left, right;
	int row; /* 0 is next to the plot */
	enum mark_place place;
	char words[LETTERING_ROOM];
};

struct marks {
	const struct run_mark *list; /* in the order of `at` */
	size_t count;
	struct mark_label *labels; /* count of them */
	int rows;
	bool numbered;
};

/* Lays them out over a plot whose axis of x counts shots from 0.  False when memory is short:
 * then there are none.  marks_release in any case. */
bool marks_lay(struct marks *marks, const struct axes *axes,
    const struct run_mark *list, size_t count);
void marks_release(struct marks *marks);

double marks_height(const struct marks *marks); /* above the plot */
void marks_put_lines(struct canvas *canvas, const struct marks *marks,
    const struct canvas_box *plot); /* under what is drawn in the plot */
void marks_put_labels(
    struct canvas *canvas, const struct marks *marks, const struct canvas_box *plot);

/* The legend; nothing unless they are numbered. */
double marks_legend_height(const struct marks *marks);
void marks_put_legend(struct canvas *canvas, const struct marks *marks, double top);

/* Under the plot: those ticks whose labels do not stand on the one before; without any, they
 * are counted, and `unit` is the word for it. */
#define TICKS_HEIGHT 17.0
void ticks_put(struct canvas *canvas, const struct axes *axes, const char *unit,
    const struct run_tick *ticks, size_t count);

#endif
