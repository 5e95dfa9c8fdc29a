/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which configurations and definitions of features were in force, and from when. */
#include "daemon/ledger/ledger_read_inside.h"

static void
setup_key(void *self, struct binding *binding, const void *last)
{
	const struct ledger_setup *row = last;
	(void)self;

	bind_integer(binding, row != NULL ? row->id : 0);
}

static void
setup_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct ledger_setup *row = to;
	(void)self;

	row->id = sqlite3_column_int64(from, 0);
	row->filed = column_time(from, 1);
	column_text(from, 2, row->program, sizeof row->program);
	column_text(from, 3, row->hash, sizeof row->hash);
}

struct setup_reader {
	int (*take)(void *arg, const struct ledger_setup *setup);
	void *arg;
};

static int
setup_give(void *self, const void *row)
{
	const struct setup_reader *reader = self;

	return reader->take(reader->arg, row);
}

int
ledger_read_setups(struct ledger_read *ledger,
    int (*take)(void *arg, const struct ledger_setup *setup), void *arg,
    struct error *error)
{
	struct setup_reader reader = {take, arg};

	return ledger_read_run(ledger,
	    "SELECT id, filed_at, program, hash FROM setup"
	    " WHERE id > ?1 ORDER BY id LIMIT ?2",
	    (struct row_source){
		.row_bytes = sizeof(struct ledger_setup),
		.bind_key = setup_key,
		.fill = setup_fill,
		.give = setup_give,
		.self = &reader,
	    },
	    error);
}

/* --- definitions of features -------------------------------------------------------- */

struct definition_row {
	char name[LEDGER_NAME];
	struct ledger_definition definition;
};

struct definition_reader {
	int (*take)(void *arg, const struct ledger_definition *definition);
	void *arg;
};

static void
definition_key(void *self, struct binding *binding, const void *last)
{
	const struct definition_row *row = last;
	(void)self;

	bind_text(binding, row != NULL ? row->name : "");
	bind_integer(binding, row != NULL ? row->definition.version : 0);
}

static void
definition_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct definition_row *row = to;
	(void)self;

	column_text(from, 0, row->name, sizeof row->name);
	row->definition = (struct ledger_definition){
	    .feature = feature_find(row->name),
	    .version = sqlite3_column_int(from, 1),
	    .setup = sqlite3_column_int64(from, 2),
	    .since = column_time(from, 3),
	};
}

static int
definition_give(void *self, const void *from)
{
	const struct definition_reader *reader = self;
	const struct definition_row *row = from;

	return row->definition.feature < 0
	           ? 0
	           : reader->take(reader->arg, &row->definition);
}

int
ledger_read_definitions(struct ledger_read *ledger,
    int (*take)(void *arg, const struct ledger_definition *definition), void *arg,
    struct error *error)
{
	struct definition_reader reader = {take, arg};

	return ledger_read_run(ledger,
	    "SELECT name, version, setup, (SELECT filed_at FROM setup s WHERE s.id = "
	    "feature.setup)"
	    " FROM feature WHERE (name, version) > (?1, ?2)"
	    " ORDER BY name, version LIMIT ?3",
	    (struct row_source){
		.row_bytes = sizeof(struct definition_row),
		.bind_key = definition_key,
		.fill = definition_fill,
		.give = definition_give,
		.self = &reader,
	    },
	    error);
}
