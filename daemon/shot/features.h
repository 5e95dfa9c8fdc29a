/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The features of one shot, from the readings that the machine's devices gave while
 * the sheet stood at its stations.  The catalogue in conf/feature says what each is.
 * Pure: the same readings give the same figures, bit for bit.
 */
#ifndef DAEMON_SHOT_FEATURES_H
#define DAEMON_SHOT_FEATURES_H

#include "daemon/shot/circumstances.h"
#include "daemon/shot/history.h"
#include "daemon/shot/roles.h"
#include "daemon/shot/sheet.h"
#include "daemon/shot/shot.h"

/* What the features are made from; lent. */
struct feature_source {
	const struct settings *settings;
	const struct line_settings *line;
	const struct roles *roles;
	const struct history *history;
	const struct sheet *sheet;
	const struct circumstances *circumstances;
};

/* Fills `shot`'s channels (room for roles->all_count) and every feature. */
void features_compute(const struct feature_source *source, struct shot *shot);

/* tool_mean_c of a shot as the sensors showed it, without what calibrations added; NAN
 * without one. */
double features_tool_mean_uncorrected_c(
    const struct feature_source *source, const struct shot *shot);

#endif
