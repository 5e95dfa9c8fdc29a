/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A copy that was put in the ledger's place knows nothing of what came after it was made:
 * numbers were given to shots, and shots got new revisions, that the stores have.  If the
 * same were given again, two sheets would be one there.
 */
#include "daemon/ledger/ledger.h"

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"

/* No line makes sheets faster: common practice, no source; heavy-gauge cycles take minutes. */
#define SHOT_LEAST_NS (10 * CLOCK_SECOND_NS)

/* The newest sheet left when the copy was not made yet. */
static const char newest_sql[] = "SELECT coalesce((SELECT max(closed_at) FROM shot),"
				 " (SELECT max(filed_at) FROM setup), 0)";

/* First the event, which tells of the last number: then ?1, at most so many sheets since,
 * and some more, up to a round number: people see where the copy begins. */
#define LAST_NO                                                            \
	"max(numbered_from, coalesce((SELECT max(shot_no) FROM shot WHERE" \
	" shot.line = line.id), 0))"
#define NUMBERED_FROM "(((" LAST_NO " + ?1 + 100) / 1000 + 1) * 1000)"
static const char event_sql[] =
    "INSERT INTO event (change, line, at, kind, text) SELECT"
    " ?2 + row_number() OVER (ORDER BY id) - 1, id, ?3, 'restored',"
    " 'a copy of the ledger was put in its place; its last shot is ' || " LAST_NO
    " || ', numbers go on from ' || (" NUMBERED_FROM " + 1) FROM line";
static const char number_sql[] = "UPDATE line SET restored = restored + 1,"
				 " numbered_from = " NUMBERED_FROM;

static int
settle(struct ledger *ledger, struct wall now, struct error *error)
{
	int64_t newest = 0, change = 0;
	int code = database_integer(ledger->db, newest_sql, &newest, error);

	if (code == 0)
		code = ledger_next_change(ledger, &change, error);
	int64_t since = now.ns > newest ? (now.ns - newest) / SHOT_LEAST_NS : 0;
	const int64_t values[] = {since, change, now.ns};
	if (code == 0)
		code = ledger_run_with(ledger, event_sql, values, 3, error);
	if (code == 0)
		code = ledger_run_with(ledger, number_sql, values, 1, error);
	return code == 0 ? database_run(ledger->db, "DELETE FROM copied", error) : code;
}

int
ledger_settle_copy(struct ledger *ledger, struct wall now, struct error *error)
{
	int64_t copied = 0;
	int code =
	    database_integer(ledger->db, "SELECT count(*) FROM copied", &copied, error);

	if (code != 0 || copied == 0)
		return code;
	code = ledger_begin(ledger, error);
	if (code == 0)
		code = ledger_end(ledger, settle(ledger, now, error), error);
	return code == 0 ? 0 : error_prefix(error, code, "take over a copy");
}
