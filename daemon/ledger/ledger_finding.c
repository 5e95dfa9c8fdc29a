/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was found in a shift, filed once. */
#include "daemon/ledger/ledger_shift.h"

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"

static const char finding_sql[] =
    "INSERT INTO event (change, line, at, kind, text)"
    " SELECT ?1, ?2, ?3, 'finding', ?4 WHERE NOT EXISTS (SELECT 1 FROM event"
    " WHERE at >= ?5 AND at < ?6 AND line = ?2 AND kind = 'finding'"
    " AND substr(CAST(text AS BLOB), 1, ?7) = substr(CAST(?4 AS BLOB), 1, ?7))";

static int
put_finding(
    struct ledger *ledger, const struct ledger_finding *finding, struct error *error)
{
	int64_t line = 0, change = 0;
	int code = ledger_line_id(ledger, finding->line, &line, error);

	if (code == 0)
		code = ledger_next_change(ledger, &change, error);
	if (code != 0)
		return code;
	sqlite3_stmt *statement = database_prepare(ledger->db, finding_sql, error);
	if (statement == NULL)
		return database_code(ledger->db);
	struct binding binding = bind_start(statement);
	bind_integer(&binding, change);
	bind_integer(&binding, line);
	bind_integer(&binding, finding->at.ns);
	bind_text(&binding, finding->text);
	bind_integer(&binding, finding->from.ns);
	bind_integer(&binding, finding->to.ns);
	bind_integer(&binding, (int64_t)finding->words);
	code = ledger_run(ledger, &binding, error);
	sqlite3_finalize(statement);
	return code;
}

int
ledger_put_finding(struct ledger *ledger, const struct ledger_finding *finding,
    bool dry, bool *filed, struct error *error)
{
	bool done = false;
	int code = ledger_begin(ledger, error);

	if (code == 0) {
		code = put_finding(ledger, finding, error);
		done = code == 0 && sqlite3_changes(ledger->db) > 0;
		code = ledger_end_dry(ledger, code, dry, error);
	}
	if (code != 0)
		return error_prefix(error, ledger_explain(ledger, code, error),
		    "file a finding of '%s'", finding->line);
	*filed = done;
	return 0;
}
