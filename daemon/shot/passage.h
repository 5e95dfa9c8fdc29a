/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A sheet that goes by a pyrometer: its readings among those of the hot oven before it and
 * of whatever comes after it.  Pure.
 */
#ifndef DAEMON_SHOT_PASSAGE_H
#define DAEMON_SHOT_PASSAGE_H

#include "daemon/shot/history.h"
#include "daemon/shot/window.h"

/* Within this of the highest, a reading beside it is of the same sheet.  No sheet leaves an
 * oven colder or hotter than these (the latter also: PASSAGE_OVER_DC over its material's
 * limit).  Common practice, no source. */
#define PASSAGE_WITHIN_DC 5.0
#define PASSAGE_LEAST_C 60.0
#define PASSAGE_MOST_C 300.0
#define PASSAGE_OVER_DC 100.0

struct passage_source {
	const struct history *history;
	uint32_t channel;
	struct window still; /* the sheet surely stood in the oven */
	struct window way;   /* from when it surely moved until it had surely gone by */
	double limit_c;      /* of its material; NAN: none is told */
};

/*
 * The mean of the highest reading that has another within PASSAGE_WITHIN_DC beside it, and
 * of all readings in a row with it that lie so far below it or less.  What goes on within
 * PASSAGE_WITHIN_DC of what was seen before the sheet moved is the oven, and left out.
 * Absent with low_coverage when there is no such pair of readings, out_of_range when that
 * mean is not plausible, not_applicable when the way is not known, else with what the
 * readings say.
 */
struct measure passage_find(const struct passage_source *source);

#endif
