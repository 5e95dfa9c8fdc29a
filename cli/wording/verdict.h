/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A verdict by its tone, an index as a cell for people and machines.  Pure; any thread. */
#ifndef CLI_WORDING_VERDICT_H
#define CLI_WORDING_VERDICT_H

#include "cli/page/page.h"
#include "cli/stats/study.h"

enum { VERDICT_FIGURE = 64 };

/*
 * Machines always get the number; people get "1.33 (1.17 to 1.49)", "1.33 (too dependent)"
 * where the interval is NAN, or, where the index that it goes with is not quotable, "too few",
 * "withheld".  `figure` must live until the cell is written.
 */
struct cell verdict_cell(double value, struct interval interval,
    const struct study_index *index, char figure[static VERDICT_FIGURE]);

enum page_tone verdict_tone(enum study_verdict verdict);

#endif
