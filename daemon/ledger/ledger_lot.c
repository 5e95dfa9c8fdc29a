/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was measured of sheet deliveries. */
#include "daemon/ledger/ledger.h"

#include <math.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_read_inside.h"

enum { NAME_BYTES = LEDGER_NAME - 1 };
static const double thickness_max_m = 0.1;
static const double stack_min_c = -40, stack_max_c = 100;

static int
check(const struct ledger_lot *lot, struct error *error)
{
	if (lot->name[0] == '\0')
		return error_set(error, ERROR_INVALID, "its name is empty");
	if (strlen(lot->name) > NAME_BYTES)
		return error_set(error, ERROR_INVALID,
		    "its name is longer than %d bytes", NAME_BYTES);
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

int
ledger_read_lot_at(struct ledger_read *ledger, const char *name, struct wall at,
    struct ledger_lot *lot, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT thickness_m, stack_c, entered_at FROM lot WHERE name = ?"
	    " AND entered_at <= ? ORDER BY id DESC LIMIT 1",
	    error);
	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);
	int code = 0;

	bind_text(&binding, name);
	bind_integer(&binding, at.ns);
	int step = bind_step(&binding);
	if (step == SQLITE_ROW)
		*lot = (struct ledger_lot){.name = name,
		    .thickness_m = column_number(statement, 0),
		    .stack_c = column_number(statement, 1),
		    .entered = column_time(statement, 2)};
	else if (step == SQLITE_DONE)
		*lot = (struct ledger_lot){
		    .name = name, .thickness_m = NAN, .stack_c = NAN};
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
