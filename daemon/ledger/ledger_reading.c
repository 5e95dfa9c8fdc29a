/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The rings of live readings: one for each destination that wants them. */
#include "daemon/ledger/ledger_delivery.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_read_inside.h"
#include "daemon/ledger/schema.h"

/* To drop one is to write as many pages as to put one: many at once cost little more. */
enum { DROP_EVERY = 32 };

/* What is put, and where. */
struct putting {
	const char *destination;
	const struct ledger_reading *reading;
	struct wall keep_from;
	int64_t ring, number;
};

static int
find_ring(struct ledger *ledger, struct putting *putting, struct error *error)
{
	struct binding find = ledger_bind(ledger, STATEMENT_RING);

	bind_text(&find, putting->destination);
	int code = ledger_integer(ledger, &find, &putting->ring, error);
	if (code != 0 || putting->ring != 0)
		return code;
	struct binding make = ledger_bind(ledger, STATEMENT_PUT_RING);
	bind_text(&make, putting->destination);
	code = ledger_run(ledger, &make, error);
	putting->ring = sqlite3_last_insert_rowid(ledger->db);
	return code;
}

static int
next_number(struct ledger *ledger, struct putting *putting, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_NEXT_READING);

	bind_text(&binding, putting->destination);
	bind_integer(&binding, SCHEMA_READING(putting->ring, 0));
	bind_integer(&binding, SCHEMA_READING(putting->ring + 1, 0));
	return ledger_integer(ledger, &binding, &putting->number, error);
}

/* In the order of their numbers, up to the first that is to stay, so that no hole comes
 * about.  Those of a later time than the one just put are from before the clock was set
 * back: they would stay for ever. */
static int
drop_old(struct ledger *ledger, const struct putting *putting, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_DROP_READINGS);

	bind_integer(&binding, SCHEMA_READING(putting->ring, 0));
	bind_integer(&binding, SCHEMA_READING(putting->ring, putting->number));
	bind_integer(&binding, putting->keep_from.ns);
	bind_integer(&binding, putting->reading->at.ns);
	return ledger_run(ledger, &binding, error);
}

static int
put(struct ledger *ledger, struct putting *putting, struct error *error)
{
	int64_t line = 0;
	int code = ledger_line_id(ledger, putting->reading->line, &line, error);

	if (code == 0)
		code = find_ring(ledger, putting, error);
	if (code == 0)
		code = next_number(ledger, putting, error);
	if (code != 0)
		return code;
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_READING);
	bind_integer(&binding, SCHEMA_READING(putting->ring, putting->number));
	bind_integer(&binding, line);
	bind_integer(&binding, putting->reading->at.ns);
	bind_bytes(&binding, putting->reading->bytes, putting->reading->byte_count);
	code = ledger_run(ledger, &binding, error);
	if (code == 0 && putting->number % DROP_EVERY == 0)
		code = drop_old(ledger, putting, error);
	return code;
}

/* Soft: shots are what the disk is waited for. */
int
ledger_put_reading(struct ledger *ledger, const char *destination,
    const struct ledger_reading *reading, struct wall keep_from, struct error *error)
{
	struct putting putting = {
	    .destination = destination, .reading = reading, .keep_from = keep_from};
	int code = ledger_begin_soft(ledger, error);

	if (code == 0) {
		code = put(ledger, &putting, error);
		code = ledger_end_soft(ledger, code, error);
	}
	return code == 0 ? 0
	                 : error_prefix(error, code, "write readings of '%s' for '%s'",
			       reading->line, destination);
}

/* --- reading them back ----------------------------------------------------------------- */

/* One row, copied out: no transaction is open while somebody takes it. */
struct copied {
	int64_t number;
	char line[LEDGER_NAME];
	struct wall at;
	void *bytes;
	size_t byte_count, room;
};

static int
copy(struct copied *copied, sqlite3_stmt *row, struct error *error)
{
	size_t count = (size_t)sqlite3_column_bytes(row, 3);

	if (count > copied->room) {
		void *more = realloc(copied->bytes, count);
		if (more == NULL)
			return error_set(error, ERROR_MEMORY, "out of memory");
		copied->bytes = more;
		copied->room = count;
	}
	copied->number = sqlite3_column_int64(row, 0);
	column_text(row, 1, copied->line, sizeof copied->line);
	copied->at = column_time(row, 2);
	copied->byte_count = count;
	if (count > 0)
		memcpy(copied->bytes, sqlite3_column_blob(row, 3), count);
	return 0;
}

/* The one behind `copied`, in its place; `*found` is false when there is none. */
static int
copy_next(sqlite3_stmt *statement, const char *destination, struct copied *copied,
    bool *found, struct error *error)
{
	struct binding binding = bind_start(statement);

	bind_text(&binding, destination);
	bind_integer(&binding, copied->number);
	int step = bind_step(&binding);
	*found = step == SQLITE_ROW;
	if (step == SQLITE_DONE)
		return 0;
	if (step != SQLITE_ROW)
		return database_failed(sqlite3_db_handle(statement), error, "ledger");
	int code = copy(copied, statement, error);
	sqlite3_reset(statement);
	return code;
}

int
ledger_read_readings(struct ledger_read *ledger, const char *destination, int64_t after,
    int (*take)(void *arg, const struct ledger_reading *reading), void *arg,
    struct error *error)
{
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT number, line.name, at, bytes FROM reading JOIN line ON"
	    " line.id = reading.line, (SELECT id AS r FROM ring WHERE destination = ?1)"
	    " WHERE reading.id > r * 1099511627776 + ?2"
	    " AND reading.id < (r + 1) * 1099511627776 ORDER BY reading.id LIMIT 1",
	    error);
	if (statement == NULL)
		return ERROR_IO;
	struct copied copied = {.number = after};
	bool found, enough = false;
	int code;

	do {
		code = copy_next(statement, destination, &copied, &found, error);
		if (code == 0 && found)
			enough = take(arg, &(struct ledger_reading){copied.number,
					       copied.line, copied.at, copied.bytes,
					       copied.byte_count}) != 0;
	} while (code == 0 && found && !enough);
	free(copied.bytes);
	sqlite3_finalize(statement);
	return code == 0
	           ? 0
	           : error_prefix(error, code, "read readings for '%s'", destination);
}
