/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was measured of sheet deliveries. */
#include "daemon/ledger/ledger.h"

#include <math.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_read_inside.h"

static const double thickness_max_m = 0.1;
static const double stack_min_c = -40, stack_max_c = 100;

static int
check(const struct ledger_lot *lot, struct error *error)
{
	if (lot->name[0] == '\0')
		return error_set(error, ERROR_INVALID, "its name is empty");
	int code = ledger_check_text("its name", lot->name, LEDGER_NAME - 1, error);
	if (code != 0)
		return code;
	if (!isnan(lot->thickness_m) &&
	    !(lot->thickness_m > 0 && lot->thickness_m < thickness_max_m))
		return error_set(error, ERROR_INVALID,
		    "its thickness is %g mm, must be above 0 and under %g",
		    lot->thickness_m * 1e3, thickness_max_m * 1e3);
	if (!isnan(lot->stack_c) &&
	    !(lot->stack_c >= stack_min_c && lot->stack_c <= stack_max_c))
		return error_set(error, ERROR_INVALID,
		    "its stack temperature is %g C, must be %g..%g", lot->stack_c,
		    stack_min_c, stack_max_c);
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

int
ledger_put_lot(struct ledger *ledger, const struct ledger_lot *lot, struct error *error)
{
	int code = check(lot, error);

	if (code == 0)
		code = ledger_begin(ledger, error);
	if (code == 0)
		code = ledger_end(ledger, put(ledger, lot, error), error);
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
