/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The channels of a shot, which are read for every shot that goes out. */
#include "daemon/ledger/ledger_read.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/ledger/filed.h"
#include "daemon/ledger/ledger_read_inside.h"
#include "daemon/ledger/schema.h"

enum { CHANNELS_AT_ONCE = 256 };

/* --- what they are called -------------------------------------------------------------- */

static int
compare_names(const void *a, const void *b)
{
	int64_t left = ((const struct channel_name *)a)->id;
	int64_t right = ((const struct channel_name *)b)->id;

	return (left > right) - (left < right);
}

static const struct channel_name *
find_name(const struct ledger_read *ledger, int64_t id)
{
	const struct channel_name wanted = {.id = id};

	if (ledger->name_count == 0)
		return NULL;
	return bsearch(&wanted, ledger->names, ledger->name_count,
	    sizeof *ledger->names, compare_names);
}

static bool
make_room(struct ledger_read *ledger, size_t count)
{
	if (count % CHANNELS_AT_ONCE != 0)
		return true;
	struct channel_name *larger =
	    realloc(ledger->names, (count + CHANNELS_AT_ONCE) * sizeof *ledger->names);
	if (larger != NULL)
		ledger->names = larger;
	return larger != NULL;
}

/* Those that came since. */
static int
read_names(struct ledger_read *ledger, struct error *error)
{
	size_t count = ledger->name_count;
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT id, device, name, role, unit = 'm3/s' FROM channel WHERE id > ? "
	    "ORDER BY id",
	    error);

	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);
	int step, code = 0;

	bind_integer(&binding, count > 0 ? ledger->names[count - 1].id : 0);
	while ((step = bind_step(&binding)) == SQLITE_ROW && code == 0) {
		if (!make_room(ledger, ledger->name_count)) {
			code = error_set(error, ERROR_MEMORY, "out of memory");
			break;
		}
		struct channel_name *name = &ledger->names[ledger->name_count++];
		name->id = sqlite3_column_int64(statement, 0);
		column_text(statement, 1, name->device, sizeof name->device);
		column_text(statement, 2, name->name, sizeof name->name);
		column_text(statement, 3, name->role, sizeof name->role);
		name->flow = sqlite3_column_int(statement, 4) != 0;
	}
	if (code == 0 && step != SQLITE_DONE)
		code = database_failed(
		    ledger->db, error, "read ledger '%s'", ledger->path);
	sqlite3_finalize(statement);
	return code;
}

/* --- the rows --------------------------------------------------------------------------- */

struct row {
	int64_t id;
	bool known; /* else the ledger has lost what it is called */
	bool flow;
	struct ledger_channel channel;
};

struct reader {
	struct ledger_read *ledger;
	int64_t shot;
	int (*take)(void *arg, const struct ledger_channel *channel);
	void *arg;
	int code; /* of names that could not be read: no row is given any more */
	struct error *error;
};

static void
bind_key(void *self, struct binding *binding, const void *last)
{
	const struct reader *reader = self;
	const struct row *row = last;

	bind_integer(
	    binding, row != NULL ? row->id : SCHEMA_SHOT_CHANNEL(reader->shot, -1));
	bind_integer(binding, SCHEMA_SHOT_CHANNEL(reader->shot + 1, 0));
}

static void
fill_name(struct reader *reader, struct row *row)
{
	int64_t id = row->id - SCHEMA_SHOT_CHANNEL(reader->shot, 0);
	const struct channel_name *name = find_name(reader->ledger, id);

	if (name == NULL) {
		reader->code = read_names(reader->ledger, reader->error);
		name = find_name(reader->ledger, id);
	}
	row->known = name != NULL;
	row->flow = name != NULL && name->flow;
	if (name == NULL)
		return;
	memcpy(row->channel.device, name->device, sizeof name->device);
	memcpy(row->channel.channel, name->name, sizeof name->name);
	memcpy(row->channel.role, name->role, sizeof name->role);
}

static void
fill(void *self, sqlite3_stmt *from, void *to)
{
	struct reader *reader = self;
	struct row *row = to;
	struct ledger_channel *channel = &row->channel;

	if (reader->code != 0)
		return;
	row->id = sqlite3_column_int64(from, 0);
	fill_name(reader, row);
	double (*filed)(double) = row->flow ? filed_flow : filed_number;
	channel->min = filed(column_number(from, 1));
	channel->mean = filed(column_number(from, 2));
	channel->max = filed(column_number(from, 3));
	channel->sd = filed(column_number(from, 4));
	channel->last = filed(column_number(from, 5));
	channel->coverage = filed(column_number(from, 6));
	channel->absent = ledger_read_absent(from, 7);
}

static int
give(void *self, const void *to)
{
	const struct reader *reader = self;
	const struct row *row = to;

	if (reader->code != 0)
		return reader->code;
	return row->known ? reader->take(reader->arg, &row->channel) : 0;
}

int
ledger_read_channels(struct ledger_read *ledger, int64_t shot_id,
    int (*take)(void *arg, const struct ledger_channel *channel), void *arg,
    struct error *error)
{
	struct reader reader = {ledger, shot_id, take, arg, 0, error};

	if (ledger->channels == NULL)
		ledger->channels = database_prepare(ledger->db,
		    "SELECT id, min, mean, max, sd, last, coverage, absent"
		    " FROM shot_channel WHERE id > ? AND id < ? ORDER BY id LIMIT ?",
		    error);
	if (ledger->channels == NULL)
		return ERROR_IO;
	int code = row_source_run(ledger,
	    &(struct row_source){
		.statement = ledger->channels,
		.row_bytes = sizeof(struct row),
		.bind_key = bind_key,
		.fill = fill,
		.give = give,
		.self = &reader,
	    },
	    error);
	return code != 0 ? code : reader.code;
}
