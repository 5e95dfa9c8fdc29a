/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the ledger may forget.
 *
 * Rows are looked through by their time, and no further than the first that a destination
 * still lacks: so an outage of a store costs no search, and while one lacks a shot that
 * was labelled anew, younger ones wait too.  What a destination refused it does not have
 * either, but nothing waits for that.
 *
 * Configurations stay, every one that was in force, also those that no shot was made under:
 * some 20 kB for each edit.  To see that nothing refers to one would take an index more of
 * shot, paid by every shot, or a walk through all of them.
 */
#include "daemon/ledger/ledger.h"

#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/schema.h"

enum {
	FORGET_AT_ONCE = 200, /* shots, events, readings: some 10 ms each */
	LOOK_AT_ONCE = 20000, /* shots that have lost their channels already */
	LIST_ROOM = 1 << 16,
};

/* What is asked for, what is to go, by id, and how far it was looked for. */
struct old {
	struct wall before;
	int64_t delivered;
	const char *destinations; /* see REFUSED in ledger_sql.c; NULL: not asked for */
	int64_t ids[FORGET_AT_ONCE];
	int count;
	struct wall looked_to; /* nothing before it is left */
	bool more;
};

/* The least that a destination has of a stream; all when there is none. */
static int
least_delivered(struct ledger *ledger, const struct ledger_keep *keep,
    const char *stream, int64_t *change, struct error *error)
{
	*change = INT64_MAX;
	for (size_t i = 0; i < keep->destination_count; i++) {
		struct ledger_delivered delivered;
		int code = ledger_delivered(
		    ledger, keep->destinations[i], stream, &delivered, error);
		if (code != 0)
			return code;
		if (delivered.change < *change)
			*change = delivered.change;
	}
	return 0;
}

/*
 * What `statement` gives from old->looked_to on: id, time and change of what is there
 * still; a change of 0 for what has gone, which is only looked at.
 */
static int
find_old(struct ledger *ledger, enum ledger_statement statement, struct old *old,
    struct error *error)
{
	struct binding binding = ledger_bind(ledger, statement);
	int looked_at = 0, step;

	bind_integer(&binding, old->looked_to.ns);
	bind_integer(&binding, old->before.ns);
	bind_integer(&binding, LOOK_AT_ONCE);
	if (old->destinations != NULL)
		bind_text(&binding, old->destinations);
	while ((step = bind_step(&binding)) == SQLITE_ROW) {
		int64_t change = sqlite3_column_int64(binding.statement, 2);
		old->looked_to = column_time(binding.statement, 1);
		if (change > old->delivered)
			break;
		old->more = ++looked_at == LOOK_AT_ONCE || old->count == FORGET_AT_ONCE;
		if (old->count == FORGET_AT_ONCE)
			break;
		if (change != 0)
			old->ids[old->count++] =
			    sqlite3_column_int64(binding.statement, 0);
	}
	sqlite3_reset(binding.statement);
	return step == SQLITE_ROW || step == SQLITE_DONE
	           ? 0
	           : database_failed(ledger->db, error, "ledger");
}

static int
forget_one(struct ledger *ledger, enum ledger_statement statement, int64_t id,
    struct error *error)
{
	struct binding binding = ledger_bind(ledger, statement);

	bind_integer(&binding, id);
	return ledger_run(ledger, &binding, error);
}

/* --- what goes while the shots stay ----------------------------------------------------- */

/*
 * So it is remembered how far they have been looked through; a ledger that is opened anew
 * is looked through once.  By time, and not from the first that has a trace or channels
 * on: one of a clock that was ahead would stand in the way of all others for years.
 */

static int
forget_traces(
    struct ledger *ledger, struct wall before, bool *more, struct error *error)
{
	struct old old = {
	    .before = before, .delivered = INT64_MAX, .looked_to = ledger->traces_gone};
	int code = find_old(ledger, STATEMENT_OLD_TRACES, &old, error);

	for (int i = 0; code == 0 && i < old.count; i++)
		code = forget_one(ledger, STATEMENT_FORGET_TRACE, old.ids[i], error);
	if (code == 0)
		ledger->traces_gone = old.looked_to;
	*more = old.more;
	return code;
}

/* Soft: what a power loss brings back is forgotten again. */
int
ledger_forget_traces(
    struct ledger *ledger, struct wall before, bool *more, struct error *error)
{
	struct wall gone = ledger->traces_gone;
	bool others = false;
	int code = ledger_begin_soft(ledger, error);

	if (code == 0) {
		code = forget_traces(ledger, before, &others, error);
		code = ledger_end_soft(ledger, code, error);
	}
	if (code != 0) {
		ledger->traces_gone = gone;
		return error_prefix(error, code, "forget traces");
	}
	*more = others;
	return 0;
}

static int
forget_channels(struct ledger *ledger, struct old old, bool *more, struct error *error)
{
	old.looked_to = ledger->channels_gone;
	int code = find_old(ledger, STATEMENT_OLD_CHANNELS, &old, error);

	for (int i = 0; code == 0 && i < old.count; i++)
		code = ledger_clear_channels(ledger, old.ids[i], error);
	if (code == 0)
		ledger->channels_gone = old.looked_to;
	*more = *more || old.more;
	return code;
}

/* --- shots, events ------------------------------------------------------------------------ */

static int
forget_shot(struct ledger *ledger, int64_t id, struct error *error)
{
	static const enum ledger_statement all[] = {STATEMENT_CLEAR_ABSENT,
	    STATEMENT_FORGET_TRACE, STATEMENT_FORGET_EARLIER,
	    STATEMENT_FORGET_SUPERSEDED, STATEMENT_FORGET_SHOT};
	int code = ledger_clear_channels(ledger, id, error);

	for (size_t i = 0; code == 0 && i < sizeof all / sizeof all[0]; i++)
		code = forget_one(ledger, all[i], id, error);
	return code;
}

static int
forget_shots(struct ledger *ledger, struct old old, bool *more, struct error *error)
{
	int code = find_old(ledger, STATEMENT_OLD_SHOTS, &old, error);

	for (int i = 0; code == 0 && i < old.count; i++)
		code = forget_shot(ledger, old.ids[i], error);
	*more = *more || old.more;
	return code;
}

static int
forget_events(struct ledger *ledger, struct old old, bool *more, struct error *error)
{
	int code = find_old(ledger, STATEMENT_OLD_EVENTS, &old, error);
	for (int i = 0; code == 0 && i < old.count; i++)
		code = forget_one(ledger, STATEMENT_FORGET_EVENT, old.ids[i], error);
	*more = *more || old.more;
	return code;
}

/* --- rings -------------------------------------------------------------------------------- */

static bool
has_destination(const struct ledger_keep *keep, const char *name)
{
	for (size_t i = 0; i < keep->destination_count; i++)
		if (strcmp(keep->destinations[i], name) == 0)
			return true;
	return false;
}

/* The first ring of a destination that there is no more; 0 when there is none. */
static int
find_lost_ring(struct ledger *ledger, const struct ledger_keep *keep, int64_t *ring,
    struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_RINGS);
	int step;

	*ring = 0;
	while ((step = bind_step(&binding)) == SQLITE_ROW && *ring == 0)
		if (!has_destination(keep, column_string(binding.statement, 1)))
			*ring = sqlite3_column_int64(binding.statement, 0);
	sqlite3_reset(binding.statement);
	return step == SQLITE_ROW || step == SQLITE_DONE
	           ? 0
	           : database_failed(ledger->db, error, "ledger");
}

static int
forget_ring(struct ledger *ledger, const struct ledger_keep *keep, bool *more,
    struct error *error)
{
	int64_t ring = 0;
	int code = find_lost_ring(ledger, keep, &ring, error);

	if (code != 0 || ring == 0)
		return code;
	struct binding readings = ledger_bind(ledger, STATEMENT_FORGET_READINGS);
	bind_integer(&readings, SCHEMA_READING(ring, 0));
	bind_integer(&readings, SCHEMA_READING(ring + 1, 0));
	bind_integer(&readings, FORGET_AT_ONCE);
	code = ledger_run(ledger, &readings, error);
	if (code != 0)
		return code;
	*more = true;
	struct binding empty = ledger_bind(ledger, STATEMENT_FORGET_RING);
	bind_integer(&empty, ring);
	bind_integer(&empty, SCHEMA_READING(ring, 0));
	bind_integer(&empty, SCHEMA_READING(ring + 1, 0));
	return ledger_run(ledger, &empty, error);
}

/* --- all of it ------------------------------------------------------------------------------ */

/* Names of stores need no escape in JSON: letters, digits, '-', '_' and '.'. */
static void
list_destinations(struct text *list, const struct ledger_keep *keep)
{
	text_puts(list, "[");
	for (size_t i = 0; i < keep->destination_count; i++)
		text_printf(list, "%s\"%s\"", i > 0 ? "," : "", keep->destinations[i]);
	text_puts(list, "]");
}

static int
forget_rows(struct ledger *ledger, const struct ledger_keep *keep,
    const char *destinations, bool *more, struct error *error)
{
	struct old old = {
	    .before = keep->channels_before, .destinations = destinations};
	int code = least_delivered(ledger, keep, "shot", &old.delivered, error);

	if (code == 0 && keep->channels_before.ns != 0)
		code = forget_channels(ledger, old, more, error);
	old.before = keep->shots_before;
	if (code != 0 || keep->shots_before.ns == 0)
		return code;
	code = forget_shots(ledger, old, more, error);
	if (code == 0)
		code = least_delivered(ledger, keep, "event", &old.delivered, error);
	return code != 0 ? code : forget_events(ledger, old, more, error);
}

static int
forget(struct ledger *ledger, const struct ledger_keep *keep, bool *more,
    struct error *error)
{
	struct text destinations;

	text_init(&destinations, LIST_ROOM);
	list_destinations(&destinations, keep);
	int code = destinations.failed
	               ? error_set(error, ERROR_MEMORY, "out of memory")
	               : forget_rows(ledger, keep, destinations.bytes, more, error);
	text_release(&destinations);
	return code != 0 ? code : forget_ring(ledger, keep, more, error);
}

/* Soft: what a power loss brings back is forgotten again. */
int
ledger_forget(struct ledger *ledger, const struct ledger_keep *keep, bool *more,
    struct error *error)
{
	struct wall channels_gone = ledger->channels_gone;
	bool others = false;
	int code = ledger_begin_soft(ledger, error);

	if (code == 0) {
		code = forget(ledger, keep, &others, error);
		code = ledger_end_soft(ledger, code, error);
	}
	if (code != 0) {
		ledger->channels_gone = channels_gone;
		return error_prefix(error, code, "forget what is old");
	}
	*more = others;
	return 0;
}
