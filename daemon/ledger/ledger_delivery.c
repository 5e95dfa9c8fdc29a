/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger.h"

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"

int
ledger_cursor(struct ledger *ledger, const char *destination, const char *stream,
    int64_t *change, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_CURSOR);

	bind_text(&binding, destination);
	bind_text(&binding, stream);
	return ledger_integer(ledger, &binding, change, error);
}

/* Soft: a cursor that a power loss sets back only sends some points once more. */
int
ledger_set_cursor(struct ledger *ledger, const char *destination, const char *stream,
    int64_t change, struct wall at, struct error *error)
{
	int code = ledger_begin_soft(ledger, error);

	if (code != 0)
		return code;
	struct binding binding = ledger_bind(ledger, STATEMENT_SET_CURSOR);
	bind_text(&binding, destination);
	bind_text(&binding, stream);
	bind_integer(&binding, change);
	bind_integer(&binding, at.ns);
	return ledger_end_soft(ledger, ledger_run(ledger, &binding, error), error);
}

int
ledger_put_refusal(
    struct ledger *ledger, const struct ledger_refusal *refusal, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_REFUSAL);

	bind_text(&binding, refusal->destination);
	bind_integer(&binding, refusal->change);
	bind_text(&binding, refusal->line);
	bind_text(&binding, refusal->answer);
	bind_integer(&binding, refusal->at.ns);
	return ledger_run(ledger, &binding, error);
}
