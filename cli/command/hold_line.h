/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A line's shots of a time, judged: what of them is suspect, and back to which good one. */
#ifndef CLI_COMMAND_HOLD_LINE_H
#define CLI_COMMAND_HOLD_LINE_H

#include "cli/command/found.h"
#include "cli/command/hold_read.h"
#include "cli/command/hold_told.h"
#include "cli/command/span.h"
#include "cli/population/suspect.h"

struct hold_line_asked {
	const struct call *call;
	const struct session *session;
	const struct span *span;
	int feature;         /* -1: all that have limits */
	double lower, upper; /* in the unit of the feature's name; NAN */
	const struct population_features *features;
};

/* Zeroed: empty.  Not to be moved: the suspects lend from it. */
struct hold_line {
	const char *name;
	struct hold_read read; /* `none`: it has no shots of that time */
	struct found_all found;
	struct hold_told told;
	struct suspect_asked asked;
	struct suspects suspects;
	struct suspect_runs runs;
	int64_t shots;
	int64_t held, held_before; /* parts to hold; of them made before the time */
};

/* Looks back HOLD_BESIDE shots, and on to HOLD_BACK_MOST where the first of them is held.  0,
 * or the error; release in either case. */
int hold_line_judge(struct hold_line *line, const struct hold_line_asked *asked,
    const char *name, struct error *error);
void hold_line_release(struct hold_line *line);

#endif
