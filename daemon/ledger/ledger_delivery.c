/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_delivery.h"

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"

int
ledger_delivered(struct ledger *ledger, const char *destination, const char *stream,
    struct ledger_delivered *delivered, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_DELIVERED);

	bind_text(&binding, destination);
	bind_text(&binding, stream);
	int step = bind_step(&binding);
	if (step == SQLITE_ROW) {
		*delivered = (struct ledger_delivered){
		    .change = sqlite3_column_int64(binding.statement, 0),
		    .turn = sqlite3_column_int64(binding.statement, 1),
		    .lost = sqlite3_column_int64(binding.statement, 2),
		    .at = column_time(binding.statement, 3),
		};
		sqlite3_reset(binding.statement);
		return 0;
	}
	if (step != SQLITE_DONE)
		return database_failed(ledger->db, error, "ledger");
	*delivered = (struct ledger_delivered){0};
	return 0;
}

/* Soft: a cursor that a power loss sets back only sends some points once more. */
int
ledger_set_delivered(struct ledger *ledger, const char *destination, const char *stream,
    const struct ledger_delivered *delivered, struct error *error)
{
	int code = ledger_begin_soft(ledger, error);

	if (code != 0)
		return code;
	struct binding binding = ledger_bind(ledger, STATEMENT_SET_DELIVERED);
	bind_text(&binding, destination);
	bind_text(&binding, stream);
	bind_integer(&binding, delivered->change);
	bind_integer(&binding, delivered->turn);
	bind_integer(&binding, delivered->lost);
	bind_integer(&binding, delivered->at.ns);
	code = ledger_run(ledger, &binding, error);
	if (code == 0 && sqlite3_changes(ledger->db) == 0)
		code = error_set(error, ERROR_BUSY,
		    "'%s' was set back meanwhile: what it has of the %ss is to be read "
		    "again",
		    destination, stream);
	return ledger_end_soft(ledger, code, error);
}

/* --- setting back -------------------------------------------------------------------- */

/* The change before the first that `statement` finds from `from` on. */
static int
change_before(struct ledger *ledger, enum ledger_statement statement, struct wall from,
    int64_t *change, struct error *error)
{
	struct binding binding = ledger_bind(ledger, statement);

	bind_integer(&binding, from.ns);
	int code = ledger_integer(ledger, &binding, change, error);
	*change = *change == 0 ? INT64_MAX : *change - 1;
	return code;
}

static int
set_back(struct ledger *ledger, const char *destination, const char *stream,
    int64_t change, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_SET_BACK);

	bind_text(&binding, destination);
	bind_text(&binding, stream);
	bind_integer(&binding, change);
	return ledger_run(ledger, &binding, error);
}

/* Of lines that are sent again it turns out again whether they are refused; those of shots
 * and events that there are no more stay: nobody else has them. */
static int
clear_refusals(struct ledger *ledger, const char *destination, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_CLEAR_REFUSALS);

	bind_text(&binding, destination);
	return ledger_run(ledger, &binding, error);
}

static int
count_left(struct ledger *ledger, enum ledger_statement statement,
    const char *destination, int64_t *count, struct error *error)
{
	struct binding binding = ledger_bind(ledger, statement);

	bind_text(&binding, destination);
	return ledger_integer(ledger, &binding, count, error);
}

/* What is to be sent again. */
struct set_back {
	int64_t shot, event, shift; /* the last changes that stay delivered */
	int64_t shots, events;
};

static int
set_both_back(struct ledger *ledger, const char *destination, struct set_back *back,
    struct error *error)
{
	int code = set_back(ledger, destination, "shot", back->shot, error);

	if (code == 0)
		code = set_back(ledger, destination, "event", back->event, error);
	if (code == 0)
		code = set_back(ledger, destination, "shift", back->shift, error);
	if (code == 0)
		code = clear_refusals(ledger, destination, error);
	if (code == 0)
		code = count_left(ledger, STATEMENT_COUNT_SHOTS_LEFT, destination,
		    &back->shots, error);
	if (code == 0)
		code = count_left(ledger, STATEMENT_COUNT_EVENTS_LEFT, destination,
		    &back->events, error);
	return code;
}

/* The walk through a long time before the transaction: what is filed or changed meanwhile
 * has a later change number.  Counted within it: an error means that nothing was done. */
int
ledger_set_back(struct ledger *ledger, const char *destination, struct wall from,
    int64_t *shots, int64_t *events, struct error *error)
{
	struct set_back back = {0};
	int code =
	    change_before(ledger, STATEMENT_FIRST_CHANGE, from, &back.shot, error);

	if (code == 0)
		code = change_before(
		    ledger, STATEMENT_FIRST_EVENT, from, &back.event, error);
	if (code == 0)
		code = change_before(
		    ledger, STATEMENT_FIRST_SHIFT, from, &back.shift, error);
	if (code == 0)
		code = ledger_begin(ledger, error);
	if (code == 0)
		code = ledger_end(
		    ledger, set_both_back(ledger, destination, &back, error), error);
	if (code != 0)
		return error_prefix(error, ledger_explain(ledger, code, error),
		    "set '%s' back", destination);
	*shots = back.shots;
	*events = back.events;
	return 0;
}

/* --- what is refused ------------------------------------------------------------------ */

/* In the place of the same line, if it was refused before. */
static int
put_refusal(
    struct ledger *ledger, const struct ledger_refusal *refusal, struct error *error)
{
	struct binding drop = ledger_bind(ledger, STATEMENT_DROP_REFUSAL);

	bind_text(&drop, refusal->destination);
	bind_integer(&drop, refusal->change);
	bind_text(&drop, refusal->line);
	int code = ledger_run(ledger, &drop, error);
	struct binding put = ledger_bind(ledger, STATEMENT_PUT_REFUSAL);
	bind_text(&put, refusal->destination);
	bind_integer(&put, refusal->change);
	bind_text(&put, refusal->line);
	bind_text(&put, refusal->answer);
	bind_integer(&put, refusal->at.ns);
	return code != 0 ? code : ledger_run(ledger, &put, error);
}

static int
put_all(struct ledger *ledger, const struct ledger_refusal *list, size_t count,
    struct error *error)
{
	int code = 0;

	for (size_t i = 0; code == 0 && i < count; i++)
		code = put_refusal(ledger, &list[i], error);
	if (code != 0)
		return code;
	struct binding bound = ledger_bind(ledger, STATEMENT_BOUND_REFUSALS);
	bind_integer(&bound, LEDGER_REFUSALS_MOST);
	return ledger_run(ledger, &bound, error);
}

/* Soft: a power loss takes the last transactions back, in their order: with a line that
 * was set aside the cursor goes that passed it later. */
int
ledger_put_refusals(struct ledger *ledger, const struct ledger_refusal *list,
    size_t count, struct error *error)
{
	int code = ledger_begin_soft(ledger, error);

	if (code == 0) {
		code = put_all(ledger, list, count, error);
		code = ledger_end_soft(ledger, code, error);
	}
	return code == 0 ? 0 : error_prefix(error, code, "set refused lines aside");
}

int
ledger_put_refusal(
    struct ledger *ledger, const struct ledger_refusal *refusal, struct error *error)
{
	return ledger_put_refusals(ledger, refusal, 1, error);
}
