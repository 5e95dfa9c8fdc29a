/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What shots went by before they were labelled or made anew. */
#include "daemon/ledger/ledger_read.h"

#include "daemon/ledger/ledger_read_inside.h"

struct reader {
	int64_t shot;
	int (*take)(void *arg, const struct ledger_superseded *superseded);
	void *arg;
};

static void
bind_key(void *self, struct binding *binding, const void *last)
{
	const struct reader *reader = self;
	const struct ledger_superseded *row = last;

	bind_integer(binding, reader->shot);
	bind_integer(binding, row != NULL ? row->revision : -1);
}

static void
fill(void *self, sqlite3_stmt *from, void *to)
{
	struct ledger_superseded *row = to;
	(void)self;

	row->revision = sqlite3_column_int64(from, 0);
	column_text(from, 1, row->recipe, sizeof row->recipe);
	column_text(from, 2, row->tool, sizeof row->tool);
	column_text(from, 3, row->material, sizeof row->material);
	row->outcome = ledger_read_outcome(from, 4);
}

static int
give(void *self, const void *row)
{
	const struct reader *reader = self;
	return reader->take(reader->arg, row);
}

int
ledger_read_superseded(struct ledger_read *ledger, int64_t shot_id,
    int (*take)(void *arg, const struct ledger_superseded *superseded), void *arg,
    struct error *error)
{
	struct reader reader = {shot_id, take, arg};

	return ledger_read_run(ledger,
	    "SELECT revision, recipe, tool, material, outcome FROM superseded"
	    " WHERE shot = ?1 AND revision > ?2 ORDER BY revision LIMIT ?3",
	    (struct row_source){
		.row_bytes = sizeof(struct ledger_superseded),
		.bind_key = bind_key,
		.fill = fill,
		.give = give,
		.self = &reader,
	    },
	    error);
}
