/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The traces of shots: written with the shot, forgotten after some days. */
#include "daemon/ledger/ledger.h"

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_read_inside.h"

enum { FORGET_AT_ONCE = 200 }; /* traces of 20 kB: some 10 ms */

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

/* Soft: what a power loss brings back is forgotten again. */
int
ledger_forget_traces(
    struct ledger *ledger, struct wall before, bool *more, struct error *error)
{
	int64_t gone = 0;
	int code = ledger_begin_soft(ledger, error);

	if (code == 0) {
		struct binding binding = ledger_bind(ledger, STATEMENT_FORGET_TRACES);
		bind_integer(&binding, before.ns);
		bind_integer(&binding, FORGET_AT_ONCE);
		code = ledger_run(ledger, &binding, error);
		gone = sqlite3_changes64(ledger->db);
		code = ledger_end_soft(ledger, code, error);
	}
	if (code != 0)
		return error_prefix(error, code, "forget traces");
	*more = gone == FORGET_AT_ONCE;
	return 0;
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
