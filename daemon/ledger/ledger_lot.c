/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was measured of sheet deliveries. */
#include "daemon/ledger/ledger.h"

#include <math.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_read_inside.h"

static int
check(const struct ledger_lot *lot, struct error *error)
{
	if (lot->name[0] == '\0')
		return error_set(error, ERROR_INVALID, "its name is empty");
	int code = ledger_check_text("its name", lot->name, LEDGER_NAME - 1, error);
	if (code != 0)
		return code;
	if (!isnan(lot->thickness_m) && !(lot->thickness_m >= SHEET_LEAST_MM * 1e-3 &&
					    lot->thickness_m <= SHEET_MOST_MM * 1e-3))
		return error_set(error, ERROR_INVALID,
		    "its thickness is %g mm, must be %g mm to %g mm",
		    lot->thickness_m * 1e3, SHEET_LEAST_MM, SHEET_MOST_MM);
	if (!isnan(lot->stack_c) &&
	    !(lot->stack_c >= SHEET_COLDEST_C && lot->stack_c <= SHEET_WARMEST_C))
		return error_set(error, ERROR_INVALID,
		    "its stack temperature is %g C, must be %g C to %g C", lot->stack_c,
		    SHEET_COLDEST_C, SHEET_WARMEST_C);
	return 0;
}

static int
put(struct ledger *ledger, const struct ledger_lot *lot, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_LOT);

	bind_text(&binding, lot->name);
	bind_number(&binding, lot->thickness_m);
	bind_number(&binding, lot->stack_c);
	bind_integer(&binding, lot->entered.ns);
	bind_label(&binding, lot->material);
	return ledger_run(ledger, &binding, error);
}

static int
put_and_relabel(struct ledger *ledger, const struct ledger_lot *lot,
    int64_t *relabelled, struct error *error)
{
	int64_t change = 0;
	int code = put(ledger, lot, error);

	if (code == 0)
		code = ledger_next_change(ledger, &change, error);
	if (code != 0)
		return code;
	struct binding binding = ledger_bind(ledger, STATEMENT_RELABEL_MATERIAL);
	bind_text(&binding, lot->name);
	binding.index = 4; /* as the other relabellings number it */
	bind_integer(&binding, change);
	code = ledger_run(ledger, &binding, error);
	if (code == 0)
		*relabelled = sqlite3_changes64(ledger->db);
	return code;
}

int
ledger_put_lot(struct ledger *ledger, const struct ledger_lot *lot, int64_t *relabelled,
    struct error *error)
{
	int64_t count = 0;
	int code = check(lot, error);

	if (code == 0)
		code = ledger_begin(ledger, error);
	if (code == 0) {
		code = put_and_relabel(ledger, lot, &count, error);
		code = ledger_end(ledger, code, error);
	}
	if (code == 0 && relabelled != NULL)
		*relabelled = count;
	if (code == 0)
		return 0;
	return error_prefix(
	    error, ledger_explain(ledger, code, error), "enter lot '%s'", lot->name);
}

static void
fill(struct ledger_lot *lot, sqlite3_stmt *row)
{
	lot->thickness_m = column_number(row, 0);
	lot->stack_c = column_number(row, 1);
	lot->entered = column_time(row, 2);
	column_text(row, 3, lot->material, sizeof lot->material);
}

int
ledger_read_lot_at(struct ledger_read *ledger, const char *name, struct wall at,
    struct ledger_lot *lot, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT thickness_m, stack_c, entered_at, material FROM lot WHERE name = ?"
	    " AND entered_at <= ? ORDER BY id DESC LIMIT 1",
	    error);
	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);
	struct ledger_lot known = {.name = name, .thickness_m = NAN, .stack_c = NAN};
	int code = 0;

	bind_text(&binding, name);
	bind_integer(&binding, at.ns);
	int step = bind_step(&binding);
	if (step == SQLITE_ROW)
		fill(&known, statement);
	if (step == SQLITE_ROW || step == SQLITE_DONE)
		*lot = known;
	else
		code = database_failed(ledger->db, error, "read lot '%s'", name);
	sqlite3_finalize(statement);
	return code;
}

int
ledger_read_lot(struct ledger_read *ledger, const char *name, struct ledger_lot *lot,
    struct error *error)
{
	const struct wall now = {INT64_MAX};

	return ledger_read_lot_at(ledger, name, now, lot, error);
}
