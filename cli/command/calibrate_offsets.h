/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Offsets from a run without sheets, and how they are shown.
 */
#ifndef CLI_COMMAND_CALIBRATE_OFFSETS_H
#define CLI_COMMAND_CALIBRATE_OFFSETS_H

#include "cli/command/calibrate_run.h"
#include "cli/command/session.h"
#include "daemon/ledger/ledger.h"

struct offsets {
	const struct session *session;
	int line;
	double true_c; /* NAN: not told */
	double seconds;
	struct ledger_calibration row; /* what all have */
	struct calibrate_run run;
	struct calibrate_held *held; /* by channel; NULL without a ledger */
	bool entered, long_enough;
};

/* Under this nobody can tell that a run is steady; common practice, no source. */
enum { RUN_LEAST_S = 300 };

/* The page, once judged and, where that was asked for, entered; `code`, or what went wrong. */
enum command_exit calibrate_offsets_show(
    const struct call *call, const struct offsets *offsets, enum command_exit code);

#endif
