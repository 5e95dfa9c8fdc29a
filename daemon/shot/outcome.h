/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What became of a sheet, and why, in words.  Pure.
 */
#ifndef DAEMON_SHOT_OUTCOME_H
#define DAEMON_SHOT_OUTCOME_H

#include "daemon/shot/sheet.h"
#include "daemon/shot/shot.h"

struct line_settings;

/* What a sheet is held against. */
struct outcome_rules {
	const struct line_settings *line;
	double heat_max_s;   /* the timer of its recipe, for each stay */
	double edge_limit_s; /* an edge less certain than this counts as not seen */
	bool sag_eye;        /* there is one */
};

enum { OUTCOME_REASON = 128 };

/*
 * The first outcome that applies, in the order of the enum; adds the flags that follow
 * from the sheet's way, and takes back a sag that cannot be.  What contradicts itself is
 * never set right: it is partial.  `reason` is "" for a complete shot.
 */
enum shot_outcome outcome_of(const struct outcome_rules *rules, struct sheet *sheet,
    char reason[static OUTCOME_REASON]);

#endif
