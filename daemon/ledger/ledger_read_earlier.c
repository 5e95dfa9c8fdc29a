/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_read.h"

#include <stdio.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_read_inside.h"

struct reader {
	int64_t shot;
	int (*take)(void *arg, const struct ledger_earlier *earlier);
	void *arg;
};

static void
bind_key(void *self, struct binding *binding, const void *last)
{
	const struct reader *reader = self;
	const struct ledger_earlier *row = last;

	bind_integer(binding, reader->shot);
	bind_integer(binding, row != NULL ? row->change : INT64_MAX);
	bind_text(binding, row != NULL ? row->feature : "");
}

static void
fill(void *self, sqlite3_stmt *from, void *to)
{
	struct ledger_earlier *row = to;
	(void)self;

	row->change = sqlite3_column_int64(from, 0);
	row->setup = sqlite3_column_int64(from, 1);
	row->until = column_time(from, 2);
	column_text(from, 3, row->feature, sizeof row->feature);
	row->value = column_number(from, 4);
	column_text(from, 5, row->text, sizeof row->text);
	if (strcmp(row->feature, LEDGER_NOT_CONFIGURED) == 0) /* all their names */
		snprintf(row->text, sizeof row->text, "%.0f feature%s", row->value,
		    row->value > 1 ? "s" : "");
}

static int
give(void *self, const void *row)
{
	const struct reader *reader = self;
	return reader->take(reader->arg, row);
}

int
ledger_read_earlier(struct ledger_read *ledger, int64_t shot_id,
    int (*take)(void *arg, const struct ledger_earlier *earlier), void *arg,
    struct error *error)
{
	struct reader reader = {shot_id, take, arg};

	return ledger_read_run(ledger,
	    "SELECT change, setup, until, feature, value, text FROM earlier"
	    " WHERE shot = ?1 AND (change < ?2 OR (change = ?2 AND feature > ?3))"
	    " ORDER BY change DESC, feature LIMIT ?4",
	    (struct row_source){
		.row_bytes = sizeof(struct ledger_earlier),
		.bind_key = bind_key,
		.fill = fill,
		.give = give,
		.self = &reader,
	    },
	    error);
}
