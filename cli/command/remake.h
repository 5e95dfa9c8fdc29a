/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Shots of a ledger made again from their traces, one after another, with what people told
 * of them by now, and what came of it.
 * One thread.
 */
#ifndef CLI_COMMAND_REMAKE_H
#define CLI_COMMAND_REMAKE_H

#include "cli/command/filed_setups.h"
#include "cli/population/population.h"
#include "cli/command/tally.h"

struct error;
struct ledger;

/* Shots that were left as they are, for one reason. */
struct remake_left {
	char line[LEDGER_NAME], reason[256];
	struct numbers shots;
};

struct remake {
	struct ledger_read *ledger;
	const struct settings *settings; /* to make them again under */
	struct filed_setups *setups;
	double *correction; /* of the readings of each channel, for the shot at hand */
	const char *path;   /* of the ledger */
	bool dry_run;       /* writes nothing */

	struct ledger *writer; /* opened with the first shot that is written */
	struct tally tally;
	int64_t again, changed, no_trace, written;
	struct remake_left *left;
	size_t left_count;
};

/* `path` and the rest are lent until remake_close.  0 or ERROR_MEMORY; close in either
 * case. */
int remake_open(struct remake *remake, struct ledger_read *ledger,
    const struct settings *settings, const char *path, bool dry_run,
    struct error *error);
void remake_close(struct remake *remake);

/* Makes one shot again, or says why it is left.  0, or what keeps all others from it too:
 * the ledger, memory. */
int remake_shot(
    struct remake *remake, const char *line, int64_t shot_no, struct error *error);

#endif
