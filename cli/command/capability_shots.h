/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One feature of the complete shots of a line, read from the ledger without anything else of
 * them, and what they were made as.  One thread.
 */
#ifndef CLI_COMMAND_CAPABILITY_SHOTS_H
#define CLI_COMMAND_CAPABILITY_SHOTS_H

#include "cli/command/progress.h"
#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>
#include <stddef.h>

struct capability_labels { /* different ones, as they came up */
	char (*list)[LEDGER_NAME];
	size_t *shots; /* of each */
	size_t count, latest;
};

struct capability_shots {
	/* asked */
	const char *line, *recipe, *tool, *lot; /* the last three NULL: any */
	int feature;
	struct progress *progress; /* or NULL */

	size_t count; /* complete ones, in the order of time */
	double *values;
	bool *breaks; /* another shot of the line stood between it and the one before */
	size_t *lot_of;  /* of each: index in lots */
	size_t left_out; /* of them that are not complete */
	struct capability_labels recipes, tools, lots;

	/* inside */
	size_t room;
	int64_t last_no;
	bool failed; /* memory was short */
};

/* Those that were filed in the time (ns 0: open).  0, or the error; release in either case. */
int capability_shots_read(struct capability_shots *shots, struct ledger_read *ledger,
    struct wall from, struct wall to, struct error *error);
void capability_shots_release(struct capability_shots *shots);

#endif
