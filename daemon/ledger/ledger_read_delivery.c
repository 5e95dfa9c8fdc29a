/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_read_delivery.h"

#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read_inside.h"

/* --- who ------------------------------------------------------------------------------ */

struct name_reader {
	int (*take)(void *arg, const char *destination);
	void *arg;
};

static void
name_key(void *self, struct binding *binding, const void *last)
{
	(void)self;
	bind_text(binding, last != NULL ? last : "");
}

static void
name_fill(void *self, sqlite3_stmt *from, void *to)
{
	(void)self;
	column_text(from, 0, to, LEDGER_NAME);
}

static int
name_give(void *self, const void *row)
{
	const struct name_reader *reader = self;
	return reader->take(reader->arg, row);
}

int
ledger_read_destinations(struct ledger_read *ledger,
    int (*take)(void *arg, const char *destination), void *arg, struct error *error)
{
	struct name_reader reader = {take, arg};

	return ledger_read_run(ledger,
	    "SELECT destination FROM (SELECT destination FROM delivery WHERE"
	    " stream <> 'notice' UNION" /* daemon/notify/events.h */
	    " SELECT destination FROM refusal) WHERE destination > ?"
	    " ORDER BY destination LIMIT ?",
	    (struct row_source){
		.row_bytes = LEDGER_NAME,
		.bind_key = name_key,
		.fill = name_fill,
		.give = name_give,
		.self = &reader,
	    },
	    error);
}

/* --- what it lacks -------------------------------------------------------------------- */

/* Ends the statement: its one row is in `lack` as `fill` has it. */
static int
read_one(struct ledger_read *ledger, struct binding *binding, struct ledger_lack *lack,
    void (*fill)(struct ledger_lack *lack, sqlite3_stmt *from), struct error *error)
{
	int code = 0;

	if (bind_step(binding) == SQLITE_ROW)
		fill(lack, binding->statement);
	else
		code = database_failed(
		    ledger->db, error, "read what a store lacks in '%s'", ledger->path);
	sqlite3_finalize(binding->statement);
	return code;
}

static void
fill_cursors(struct ledger_lack *lack, sqlite3_stmt *from)
{
	lack->shot_cursor = sqlite3_column_int64(from, 0);
	lack->event_cursor = sqlite3_column_int64(from, 1);
	lack->moved = column_time(from, 2);
	lack->refused = sqlite3_column_int64(from, 3);
	lack->lost = sqlite3_column_int64(from, 4);
	lack->readings = sqlite3_column_int64(from, 5);
	lack->shift_cursor = sqlite3_column_int64(from, 6);
}

static int
read_cursors(struct ledger_read *ledger, const char *destination,
    struct ledger_lack *lack, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT (SELECT change FROM delivery WHERE destination = ?1 AND"
	    " stream = 'shot'), (SELECT change FROM delivery WHERE destination = ?1"
	    " AND stream = 'event'), (SELECT max(at) FROM delivery WHERE"
	    " destination = ?1 AND stream IN ('shot', 'event', 'shift')),"
	    " (SELECT count(*) FROM refusal WHERE destination = ?1),"
	    " (SELECT max(lost) FROM delivery WHERE destination = ?1),"
	    " (SELECT count(*) FROM ring r JOIN reading n ON n.id > (r.id << 40) +"
	    " coalesce((SELECT change FROM delivery WHERE destination = ?1 AND stream"
	    " = 'reading'), 0) AND n.id < (r.id + 1 << 40) WHERE r.destination = ?1),"
	    " (SELECT change FROM delivery WHERE destination = ?1 AND stream ="
	    " 'shift')",
	    error);

	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);
	bind_text(&binding, destination);
	return read_one(ledger, &binding, lack, fill_cursors, error);
}

static void
fill_counts(struct ledger_lack *lack, sqlite3_stmt *from)
{
	lack->shots = sqlite3_column_int64(from, 0);
	lack->events = sqlite3_column_int64(from, 1);
	lack->next = column_time(from, 2);
	lack->shifts = sqlite3_column_int64(from, 3);
}

/* What lies beyond the cursors. */
static int
count_beyond(struct ledger_read *ledger, struct ledger_lack *lack, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT (SELECT count(*) FROM shot WHERE change > ?1),"
	    " (SELECT count(*) FROM event WHERE change > ?2),"
	    " coalesce((SELECT filed_at FROM shot WHERE change > ?1 ORDER BY change"
	    " LIMIT 1), (SELECT at FROM event WHERE change > ?2 ORDER BY change"
	    " LIMIT 1)), (SELECT count(*) FROM shift_total WHERE change > ?3 AND"
	    " superseded IS NULL)",
	    error);

	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);
	bind_integer(&binding, lack->shot_cursor);
	bind_integer(&binding, lack->event_cursor);
	bind_integer(&binding, lack->shift_cursor);
	return read_one(ledger, &binding, lack, fill_counts, error);
}

int
ledger_read_lack(struct ledger_read *ledger, const char *destination,
    struct ledger_lack *lack, struct error *error)
{
	*lack = (struct ledger_lack){0};
	int code = read_cursors(ledger, destination, lack, error);
	return code != 0 ? code : count_beyond(ledger, lack, error);
}

/* The cursors before the first shot, event and shift from there on. */
static void
fill_earlier(struct ledger_lack *lack, sqlite3_stmt *from)
{
	lack->shot_cursor = sqlite3_column_int64(from, 0);
	lack->event_cursor = sqlite3_column_int64(from, 1);
	lack->shift_cursor = sqlite3_column_int64(from, 2);
}

int
ledger_read_lack_from(struct ledger_read *ledger, const char *destination,
    struct wall from, struct ledger_lack *lack, struct error *error)
{
	*lack = (struct ledger_lack){0};
	int code = read_cursors(ledger, destination, lack, error);
	if (code != 0)
		return code;
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT min(?2, coalesce((SELECT min(change) - 1 FROM shot WHERE"
	    " filed_at >= ?1), ?2)), min(?3, coalesce((SELECT min(change) - 1 FROM"
	    " event WHERE at >= ?1), ?3)), min(?4, coalesce((SELECT min(change) - 1"
	    " FROM shift_total WHERE to_at > ?1), ?4))",
	    error);
	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);
	bind_integer(&binding, from.ns);
	bind_integer(&binding, lack->shot_cursor);
	bind_integer(&binding, lack->event_cursor);
	bind_integer(&binding, lack->shift_cursor);
	code = read_one(ledger, &binding, lack, fill_earlier, error);
	return code != 0 ? code : count_beyond(ledger, lack, error);
}

/* --- what it refused ------------------------------------------------------------------ */

/* A character has 4 bytes at most. */
enum { LINE_CHARACTERS = 4000, LINE_ROOM = 4 * LINE_CHARACTERS + 1 };

struct refused_row {
	int64_t change, id;
	char line[LINE_ROOM], answer[1024], end[32];
	struct wall at;
};

struct refused_reader {
	const char *destination;
	int (*take)(void *arg, const struct ledger_refused *refused);
	void *arg;
};

static void
refused_key(void *self, struct binding *binding, const void *last)
{
	const struct refused_reader *reader = self;
	const struct refused_row *row = last;

	bind_text(binding, reader->destination);
	bind_integer(binding, row != NULL ? row->change : INT64_MIN);
	bind_integer(binding, row != NULL ? row->id : 0);
}

static void
refused_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct refused_row *row = to;
	(void)self;

	row->change = sqlite3_column_int64(from, 0);
	column_text(from, 1, row->line, sizeof row->line);
	column_text(from, 2, row->end, sizeof row->end);
	column_text(from, 3, row->answer, sizeof row->answer);
	row->at = column_time(from, 4);
	row->id = sqlite3_column_int64(from, 5);
}

/* The time that a line ends with. */
static struct wall
time_of_line(const char *end)
{
	const char *blank = strrchr(end, ' ');
	int64_t ns;

	if (blank == NULL || !text_integer(blank + 1, &ns) || ns <= 0)
		return (struct wall){0};
	return (struct wall){ns - ns % CLOCK_SECOND_NS};
}

static int
refused_give(void *self, const void *from)
{
	const struct refused_reader *reader = self;
	const struct refused_row *row = from;

	return reader->take(
	    reader->arg, &(struct ledger_refused){row->change, row->line, row->answer,
			     row->at, time_of_line(row->end)});
}

int
ledger_read_refusals(struct ledger_read *ledger, const char *destination,
    int (*take)(void *arg, const struct ledger_refused *refused), void *arg,
    struct error *error)
{
	struct refused_reader reader = {destination, take, arg};
	struct text sql;

	text_init(&sql, 512);
	text_printf(&sql,
	    "SELECT change, substr(line, 1, %d), substr(line, -24), answer, at, id"
	    " FROM refusal WHERE destination = ? AND (change, id) > (?, ?)"
	    " ORDER BY change, id LIMIT ?",
	    LINE_CHARACTERS);
	int code = sql.failed ? error_set(error, ERROR_MEMORY, "out of memory")
	                      : ledger_read_run(ledger, sql.bytes,
				    (struct row_source){
					.row_bytes = sizeof(struct refused_row),
					.bind_key = refused_key,
					.fill = refused_fill,
					.give = refused_give,
					.self = &reader,
				    },
				    error);
	text_release(&sql);
	return code;
}
