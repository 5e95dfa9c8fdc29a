/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The shots that may be suspect, and those before and after that bound them. */
#ifndef CLI_COMMAND_HOLD_READ_H
#define CLI_COMMAND_HOLD_READ_H

#include "cli/command/session.h"
#include "cli/command/shots_gap.h"
#include "cli/population/lacking.h"

struct population_features;
struct source;

enum {
	HOLD_BESIDE = 500, /* shots looked at before and after the time asked about */
	HOLD_BACK_MOST = 8000, /* before it, where all of those are held */
	HOLD_MOST = 20000,     /* shots in all */
};

/* Zeroed: empty. */
struct hold_read {
	struct ledger_shot *shots; /* by number */
	size_t count, room;
	size_t back; /* of them filed before the time: no more than were asked for */
	bool more;   /* there may be more before them */
	size_t first, last; /* those asked about; `none` when there are none */
	bool none;
	struct lacking lacking;
	struct shots_gaps gaps; /* `before` is a place in shots */
};

struct hold_asked {
	const char *line;
	struct wall from, to; /* ns 0: open */
	size_t back;          /* shots wanted before it */
	const struct population_features *features;
};

/* 0, or the error; release in either case. */
int hold_read(struct hold_read *read, struct source *source,
    const struct hold_asked *asked, struct error *error);
void hold_read_release(struct hold_read *read);

#endif
