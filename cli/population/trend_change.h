/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What changed between the points of a trend: lots, tools that came in between, sensors that
 * were calibrated.  One thread.
 */
#ifndef CLI_POPULATION_TREND_CHANGE_H
#define CLI_POPULATION_TREND_CHANGE_H

#include "cli/population/trend.h"

enum trend_change_kind {
	TREND_LOT,
	TREND_TOOL, /* the same tool again, after another */
	TREND_CALIBRATION,
};

struct trend_change {
	size_t before; /* stands before this point */
	enum trend_change_kind kind;
	struct wall at;
	char name[2 * LEDGER_NAME]; /* the lot's, the other tool's, "device.channel" */
	int64_t
	    channel; /* TREND_CALIBRATION: in settings->channels; -1: not there now */
};

struct trend_changes {
	struct trend_change *list; /* by `before`, then by time */
	size_t count;
};

/* "lot", "tool", "calibration". */
const char *trend_change_text(enum trend_change_kind kind);

struct trend_change_asked {
	const struct settings *settings;
	const struct trend *trend;     /* in which other tools are looked for */
	const struct trend_kind *kind; /* one of it, or some of its points */
	struct ledger_read *ledger;    /* NULL: no calibrations are known */
	const char *line;
};

/* 0, or the error; release in either case. */
int trend_changes_find(struct trend_changes *changes,
    const struct trend_change_asked *asked, struct error *error);
void trend_changes_release(struct trend_changes *changes);

/* Whether the change can have moved the feature. */
bool trend_change_concerns(
    const struct trend_change *change, const struct settings *settings, int feature);

#endif
