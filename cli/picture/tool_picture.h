/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The sensors of a tool over the shots: a band from the coldest to the hottest with their
 * mean, and under it on an axis of its own the three spreads (at one instant; of the
 * sensors' means; the swing within a shot).  Values in the unit that is shown.
 */
#ifndef CLI_PICTURE_TOOL_PICTURE_H
#define CLI_PICTURE_TOOL_PICTURE_H

#include "cli/picture/run_picture.h"

enum { TOOL_SPREADS = 3 };

struct tool_picture {
	const char *heading, *y_label,
	    *spread_label; /* "temperature, F", "difference, F" */
	size_t count;
	const double *coldest, *mean, *hottest; /* of the sensors' means; NAN absent */
	const char *spread_name[TOOL_SPREADS];
	const double *spread[TOOL_SPREADS]; /* NULL: none */
	double spread_limit[TOOL_SPREADS];  /* upper specification limits; NAN none */
	const struct run_mark *marks;
	size_t mark_count;
	const struct run_tick *ticks;
	size_t tick_count;
};

struct picture tool_picture_make(const struct tool_picture *what, const char *name,
    const char *title, const char *description);

#endif
