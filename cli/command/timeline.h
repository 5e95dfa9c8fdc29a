/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The way of one sheet as steps: loaded, each stay in an oven, the gap between two of
 * them, the transfer, the forming.  Pure; any thread.
 */
#ifndef CLI_COMMAND_TIMELINE_H
#define CLI_COMMAND_TIMELINE_H

#include "conf/settings.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/shot/sheet.h"

struct step {
	char name[SETTINGS_NAME + 16]; /* "heat in oven-a" */
	struct wall at;                /* when it began; ns 0 unknown */
	double after_s;                /* that, after the heat began; NAN unknown */
	double lasts_s;                /* NAN: an instant, or unknown */
	double within_s;               /* `lasts_s` is true to +- this */
};

/* A stay, a gap, an instant of sagging; and what is around them. */
enum { TIMELINE_MAX = 3 * SHEET_STAYS_MAX + 6 };
struct timeline {
	struct step steps[TIMELINE_MAX]; /* in the order of time */
	size_t count;
};

/* From the edges themselves, each with its own uncertainty. */
void timeline_of_sheet(struct timeline *timeline, const struct sheet *sheet,
    const struct line_settings *line);

/* From what is on file of a shot whose trace is gone. */
void timeline_of_shot(struct timeline *timeline, const struct ledger_shot *shot);

/* The step that lasts over the instant `after_s` after the heat began; NULL: none. */
const struct step *timeline_at(const struct timeline *timeline, double after_s);

#endif
