/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The shots of a run picture and, beside them, their distribution.  For run_picture alone. */
#ifndef CLI_PICTURE_RUN_PLOT_H
#define CLI_PICTURE_RUN_PLOT_H

#include "cli/picture/axes.h"
#include "cli/picture/glyph.h"
#include "cli/picture/run_picture.h"

/* Shots that one column holds: 1, or more where single ones could not be told apart. */
size_t run_plot_column(const struct run_picture *what, double width);

/* What each shape stands for, of those that are there. */
void run_plot_key(const struct run_picture *what, const struct axis *y, double width,
    struct key *key);

/* Points, lines between neighbours, and the median of many. */
void run_plot_put(
    struct canvas *canvas, const struct axes *axes, const struct run_picture *what);
/* Those that stand out; above everything else. */
void run_plot_put_special(
    struct canvas *canvas, const struct axes *axes, const struct run_picture *what);

/* Bars and the curve, in a box that shares the axis y. */
void run_spread_put(struct canvas *canvas, const struct canvas_box *box,
    const struct axis *y, const struct run_picture *what);

/* How many shots lie around one whose median is drawn; 0: none is. */
size_t run_median_window(const struct run_picture *what);
void run_median_put(
    struct canvas *canvas, const struct axes *axes, const struct run_picture *what);

#endif
