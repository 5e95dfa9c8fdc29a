/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What became of a sheet, and why, in words.  Pure.
 */
#ifndef DAEMON_SHOT_OUTCOME_H
#define DAEMON_SHOT_OUTCOME_H

#include "daemon/shot/sheet.h"
#include "daemon/shot/shot.h"

struct line_settings;

/*
 * The first outcome that applies, in the order of the enum; adds the flags that follow
 * from the windows.  `heat_max_s` is the timer of its recipe; `edge_limit_s` the
 * uncertainty past which an edge counts as not seen; `sag_eye` whether there is one.
 * `reason` (128 bytes) is "" for a complete shot.
 */
enum shot_outcome outcome_of(const struct line_settings *line, struct sheet *sheet,
    double heat_max_s, double edge_limit_s, bool sag_eye, char reason[static 128]);

#endif
