/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The traces of shots: written with the shot; ledger_keep.c forgets them. */
#include "daemon/ledger/ledger.h"

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_read_inside.h"

int
ledger_put_trace(
    struct ledger *ledger, const struct shot *shot, int64_t id, struct error *error)
{
	if (shot->trace == NULL || shot->trace_bytes == 0)
		return 0;
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_TRACE);
	bind_integer(&binding, id);
	bind_integer(&binding, ledger->setup.id);
	bind_bytes(&binding, shot->trace, shot->trace_bytes);
	return ledger_run(ledger, &binding, error);
}

int
ledger_read_trace(struct ledger_read *ledger, int64_t shot_id, void **bytes,
    size_t *byte_count, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(
	    ledger->db, "SELECT bytes FROM trace WHERE shot = ?", error);
	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);

	bind_integer(&binding, shot_id);
	int code = database_bytes(ledger->db, &binding, bytes, byte_count, error);
	sqlite3_finalize(statement);
	return code == 0 ? 0 : error_prefix(error, code, "read a trace");
}

int
ledger_read_trace_setup(
    struct ledger_read *ledger, int64_t shot_id, int64_t *setup, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(
	    ledger->db, "SELECT setup FROM trace WHERE shot = ?", error);
	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);
	int code = 0;

	bind_integer(&binding, shot_id);
	int step = bind_step(&binding);
	if (step != SQLITE_ROW && step != SQLITE_DONE)
		code = database_failed(ledger->db, error, "read a trace");
	else
		*setup = step == SQLITE_ROW ? sqlite3_column_int64(statement, 0) : 0;
	sqlite3_finalize(statement);
	return code;
}
