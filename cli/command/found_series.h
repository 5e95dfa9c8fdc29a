/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Shots of one kind as they are read for the findings, growing.  One thread an object.
 */
#ifndef CLI_COMMAND_FOUND_SERIES_H
#define CLI_COMMAND_FOUND_SERIES_H

#include "cli/command/reference_known.h"
#include "cli/findings/findings.h"

struct error;

struct found_series_labels {
	char lot[LEDGER_NAME], properties[2 * LEDGER_NAME];
};

/* Zeroed: none. */
struct found_series {
	struct kind kind;
	struct findings_shot *shots;
	struct found_series_labels *labels; /* of the shots */
	size_t count, room;
};

enum { FOUND_SHOTS_MOST = 100000 };

/* False: no memory, or more than that many. */
bool found_series_add(struct found_series *series, const struct findings_shot *shot,
    const char *lot, const char *properties);
bool found_series_add_shot(struct found_series *series, const struct ledger_shot *shot);
int found_series_too_many(struct error *error); /* tells it */

/* Puts `before`, the newest first, in front of it, or behind it as it is. */
bool found_series_prepend(
    struct found_series *series, const struct found_series *before);
bool found_series_append(struct found_series *series, const struct found_series *after);

/* Lends the shots their lots: nothing is added from then on. */
void found_series_join(struct found_series *series);

void found_series_release(struct found_series *series);

#endif
