/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The band and the spreads of a tool picture.  For tool_picture alone. */
#ifndef CLI_PICTURE_TOOL_PLOT_H
#define CLI_PICTURE_TOOL_PLOT_H

#include "cli/picture/axes.h"
#include "cli/picture/tool_picture.h"

/* Shots that are drawn together: 1, or more where single ones could not be told apart. */
size_t tool_plot_column(const struct tool_picture *what, double width);

/* Whether the shot has any reading of the tool. */
bool tool_plot_has(const struct tool_picture *what, size_t i);

/* From the coldest sensor to the hottest, with the mean; crosses where none read. */
void tool_plot_put_band(
    struct canvas *canvas, const struct axes *axes, const struct tool_picture *what);

/* Colour and dash of a spread, of TOOL_SPREADS. */
struct canvas_pen tool_plot_pen(int spread);
void tool_plot_put_spread(struct canvas *canvas, const struct axes *axes,
    const struct tool_picture *what, int spread);

#endif
