/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sheets that stand in a line: written by the daemon at every move, read by the next
 * daemon. */
#include "daemon/ledger/ledger.h"

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"

static int
put(struct ledger *ledger, const char *line, const void *bytes, size_t byte_count,
    struct wall at, struct error *error)
{
	int64_t id = 0;
	int code = ledger_line_id(ledger, line, &id, error);

	if (code != 0)
		return code;
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_IN_FLIGHT);
	bind_integer(&binding, id);
	bind_integer(&binding, at.ns);
	bind_bytes(&binding, bytes, byte_count);
	return ledger_run(ledger, &binding, error);
}

/* Soft: after a power loss the clocks are others and nobody takes it up again. */
int
ledger_put_in_flight(struct ledger *ledger, const char *line, const void *bytes,
    size_t byte_count, struct wall at, struct error *error)
{
	int code = ledger_begin_soft(ledger, error);

	if (code == 0) {
		code = put(ledger, line, bytes, byte_count, at, error);
		code = ledger_end_soft(ledger, code, error);
	}
	return code == 0 ? 0
	                 : error_prefix(error, code, "write the sheets in '%s'", line);
}

int
ledger_in_flight(struct ledger *ledger, const char *line, void **bytes,
    size_t *byte_count, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT bytes FROM in_flight"
	    " WHERE line = (SELECT id FROM line WHERE name = ?)",
	    error);
	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);

	bind_text(&binding, line);
	int code = database_bytes(ledger->db, &binding, bytes, byte_count, error);
	sqlite3_finalize(statement);
	return code == 0 ? 0
	                 : error_prefix(error, code, "read the sheets in '%s'", line);
}
