/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a ledger has kept of a shot's way: its trace, and the set-ups to read it with.
 * One thread.
 */
#ifndef CLI_COMMAND_KEPT_H
#define CLI_COMMAND_KEPT_H

#include "cli/command/filed_setups.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/shot/sheet.h"

struct kept {
	void *bytes; /* NULL: no trace (any more) */
	size_t byte_count;
	const struct settings *taken; /* the readings were taken under it; lent */
	const struct settings *made;  /* the shot's figures are made under it; lent */
	struct sheet sheet;           /* its way */
};

/*
 * Reads the trace of a shot; release in either case.  ERROR_INVALID when the trace or a
 * set-up cannot be read, and the ledger's errors.
 */
int kept_read(struct kept *kept, struct ledger_read *ledger,
    struct filed_setups *setups, const struct ledger_shot *shot, struct error *error);
void kept_release(struct kept *kept);

/* The index of a shot's side in the sides of a line: -1 where there is but one, -2 where
 * the line has none of that name. */
int kept_side(const struct line_settings *line, const struct ledger_shot *shot);

#endif
