/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What shots went by before they were labelled or made anew. */
#include "daemon/ledger/ledger_read.h"

#include <math.h>

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

/* --- the channels of then ------------------------------------------------------------- */

struct channel_row {
	int64_t id;
	struct ledger_channel channel;
};

struct channel_reader {
	int64_t shot, revision;
	int (*take)(void *arg, const struct ledger_channel *channel);
	void *arg;
};

static void
channel_key(void *self, struct binding *binding, const void *last)
{
	const struct channel_reader *reader = self;
	const struct channel_row *row = last;

	bind_integer(binding, reader->shot);
	bind_integer(binding, reader->revision);
	bind_integer(binding, row != NULL ? row->id : 0);
}

static void
channel_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct channel_row *row = to;
	struct ledger_channel *channel = &row->channel;
	(void)self;

	*row = (struct channel_row){.id = sqlite3_column_int64(from, 0)};
	column_text(from, 1, channel->device, sizeof channel->device);
	column_text(from, 2, channel->channel, sizeof channel->channel);
	column_text(from, 3, channel->role, sizeof channel->role);
	channel->min = channel->mean = channel->max = channel->sd = channel->last =
	    channel->coverage = NAN;
	channel->absent = ABSENT_NOT_CONFIGURED;
}

static int
channel_give(void *self, const void *row)
{
	const struct channel_reader *reader = self;
	return reader->take(reader->arg, &((const struct channel_row *)row)->channel);
}

int
ledger_read_superseded_channels(struct ledger_read *ledger, int64_t shot_id,
    int64_t revision, int (*take)(void *arg, const struct ledger_channel *channel),
    void *arg, struct error *error)
{
	struct channel_reader reader = {shot_id, revision, take, arg};

	/* Of one name and role there may have been several, by position or unit: a store
	 * knows them as one. */
	return ledger_read_run(ledger,
	    "SELECT min(c.id) AS first, c.device, c.name, c.role FROM superseded AS s"
	    " JOIN shot ON shot.id = s.shot JOIN channel AS c ON c.line = shot.line"
	    " WHERE s.shot = ?1 AND s.revision = ?2 AND (s.channels IS NULL OR"
	    " instr(' ' || s.channels || ' ', ' ' || c.id || ' ') > 0)"
	    " GROUP BY c.device, c.name, c.role HAVING first > ?3 ORDER BY first"
	    " LIMIT ?4",
	    (struct row_source){
		.row_bytes = sizeof(struct channel_row),
		.bind_key = channel_key,
		.fill = channel_fill,
		.give = channel_give,
		.self = &reader,
	    },
	    error);
}

/* --- whether all that was read of a shot belongs together --------------------------------- */

int
ledger_read_change(
    struct ledger_read *ledger, int64_t shot_id, int64_t *change, struct error *error)
{
	sqlite3_stmt *statement =
	    database_prepare(ledger->db, "SELECT change FROM shot WHERE id = ?", error);

	if (statement == NULL)
		return database_code(ledger->db);
	struct binding binding = bind_start(statement);
	bind_integer(&binding, shot_id);
	int step = bind_step(&binding);
	int code = 0;
	if (step != SQLITE_ROW && step != SQLITE_DONE)
		code = database_failed(
		    ledger->db, error, "read ledger '%s'", ledger->path);
	else
		*change = step == SQLITE_ROW ? sqlite3_column_int64(statement, 0) : 0;
	sqlite3_finalize(statement);
	return code;
}
