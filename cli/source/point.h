/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The fields and tags of a shot's points in a store, by the names that
 * daemon/publish/line_protocol.h gives them, and what they are of a ledger_shot.  Pure.
 */
#ifndef CLI_SOURCE_POINT_H
#define CLI_SOURCE_POINT_H

#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>
#include <stdint.h>

enum point_field {
	/* tags */
	POINT_LINE,
	POINT_RECIPE,
	POINT_TOOL,
	POINT_MATERIAL,
	POINT_OUTCOME,
	POINT_REVISION,
	POINT_FEATURE, /* of an absence: which feature, and POINT_REASON why */
	/* strings */
	POINT_REASON,
	POINT_LOT,
	POINT_SIDE,
	POINT_SET_POINTS,
	POINT_PROPERTIES,
	POINT_SET_UP,
	/* numbers */
	POINT_SHOT_NO,
	POINT_FILED_US,
	POINT_LOADED_US,
	POINT_HEAT_START_US,
	POINT_HEAT_END_US,
	POINT_FORM_START_US,
	POINT_FORM_END_US,
	POINT_CLOSED_US,
	POINT_FLAGS,
	POINT_CYCLE_COUNT,
	POINT_UNCERTAINTY_S,
	POINT_FIXED,
	/* the features behind them: POINT_FIXED + id */
	POINT_UNKNOWN = -1,
};

/* "filed_us"; of the features their own. */
const char *point_name(int field);

/* The field of that name, POINT_UNKNOWN when it is none of these. */
int point_find(const char *name);

/* "unknown", which stands for a tag that is not known, as "". */
const char *point_tag(const char *value);

/* A shot of which nothing is known but the line and the second of its points. */
void point_blank(struct ledger_shot *shot, const char *line);

/*
 * Sets what a text or a number is of, where it is of the shot itself; others are passed
 * over.  `point_ns` is the point's time, which the _us count from.
 */
void point_set_text(struct ledger_shot *shot, int field, const char *value);
void point_set_number(
    struct ledger_shot *shot, int field, int64_t point_ns, double value);

/* Microseconds from the second of a point on. */
struct wall point_time(int64_t point_ns, double us);

/* Notes why a feature is absent, unless its value is there. */
void point_set_absent(
    struct ledger_shot *shot, const char *feature, const char *reason);

#endif
