/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_walk.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/database.h"

enum { COLUMNS_ROOM = 1 << 16 };

struct walk {
	sqlite3 *from, *to;
	const char *table;
	sqlite3_stmt *rows; /* from key ?1 on; the key is the first column */
	sqlite3_stmt *put;
	struct ledger_walked *walked;
	bool numbered, unique; /* rows, by their key */
	int code;              /* of the new file; 0 */
	struct error *error;
};

/* --- the table --------------------------------------------------------------------- */

/* The columns that both have, as a list. */
static int
list_columns(struct walk *walk, struct text *list, int *count)
{
	char sql[160];

	snprintf(
	    sql, sizeof sql, "SELECT name FROM pragma_table_info('%s')", walk->table);
	sqlite3_stmt *names = database_prepare(walk->to, sql, walk->error);
	if (names == NULL)
		return ERROR_IO;
	*count = 0;
	while (sqlite3_step(names) == SQLITE_ROW) {
		text_printf(
		    list, "%s\"%s\"", *count > 0 ? ", " : "", column_string(names, 0));
		++*count;
	}
	sqlite3_finalize(names);
	if (list->failed || *count == 0)
		return error_set(walk->error, ERROR_MEMORY, "out of memory");
	return 0;
}

static sqlite3_stmt *
prepare_put(struct walk *walk, const struct text *columns, int count)
{
	struct text sql;

	text_init(&sql, 2 * COLUMNS_ROOM);
	text_printf(&sql, "INSERT OR IGNORE INTO %s (%s) VALUES (", walk->table,
	    columns->bytes);
	for (int i = 0; i < count; i++)
		text_printf(&sql, "%s?%d", i > 0 ? ", " : "", i + 1);
	text_puts(&sql, ")");
	sqlite3_stmt *statement =
	    sql.failed ? NULL : database_prepare(walk->to, sql.bytes, walk->error);
	text_release(&sql);
	return statement;
}

/* NULL when not even its first page can be read. */
static sqlite3_stmt *
prepare_rows(const struct walk *walk, const struct text *columns, const char *key,
    const char *rest)
{
	struct text sql;
	sqlite3_stmt *statement = NULL;

	text_init(&sql, 2 * COLUMNS_ROOM);
	text_printf(
	    &sql, "SELECT %s, %s FROM %s %s", key, columns->bytes, walk->table, rest);
	if (!sql.failed && sqlite3_prepare_v2(walk->from, sql.bytes, -1, &statement,
			       NULL) != SQLITE_OK)
		statement = NULL;
	text_release(&sql);
	return statement;
}

/* --- where rows are not readable --------------------------------------------------------- */

static void
add_hole(struct walk *walk, int64_t low, int64_t high)
{
	sqlite3_stmt *put = database_prepare(
	    walk->to, "INSERT INTO temp.hole VALUES (?1, ?2, ?3)", walk->error);

	walk->walked->places++;
	if (put != NULL) {
		sqlite3_bind_text(put, 1, walk->table, -1, SQLITE_STATIC);
		sqlite3_bind_int64(put, 2, low);
		sqlite3_bind_int64(put, 3, high);
	}
	if ((put == NULL || sqlite3_step(put) != SQLITE_DONE) && walk->code == 0)
		walk->code = database_failed(walk->to, walk->error, "note a hole");
	sqlite3_finalize(put);
}

/* The row there is. */
static void
add_odd(struct walk *walk)
{
	int64_t key = sqlite3_column_int64(walk->rows, 0);

	if (walk->numbered)
		add_hole(walk, key, key);
	else
		walk->walked->places++;
}

/* --- rows ------------------------------------------------------------------------------ */

/* The row there is goes into the new table, unless that cannot be it. */
static void
put_row(struct walk *walk)
{
	int count = sqlite3_bind_parameter_count(walk->put);

	sqlite3_reset(walk->put);
	for (int i = 1; i <= count; i++)
		sqlite3_bind_value(walk->put, i, sqlite3_column_value(walk->rows, i));
	int step = sqlite3_step(walk->put);
	if (step == SQLITE_DONE) {
		walk->walked->rows += sqlite3_changes(walk->to);
		return;
	}
	if ((step & 0xff) == SQLITE_CONSTRAINT || (step & 0xff) == SQLITE_MISMATCH)
		add_odd(walk); /* it holds what its table cannot */
	else if (walk->code == 0)
		walk->code = database_failed(walk->to, walk->error, "write the rows");
}

/* Puts rows as far as they can be read; true at their end.  `*last` is the key of the last
 * that was put, or stays. */
static bool
put_rows(struct walk *walk, int64_t *last)
{
	int step;

	while ((step = sqlite3_step(walk->rows)) == SQLITE_ROW && walk->code == 0) {
		put_row(walk);
		*last = sqlite3_column_int64(walk->rows, 0);
	}
	sqlite3_reset(walk->rows);
	return step == SQLITE_DONE || walk->code != 0;
}

static bool
can_read(struct walk *walk, int64_t key)
{
	sqlite3_bind_int64(walk->rows, 1, key);
	int step = sqlite3_step(walk->rows);
	sqlite3_reset(walk->rows);
	return step == SQLITE_ROW || step == SQLITE_DONE;
}

/* The lowest key above `bad` from which on something can be read again; INT64_MAX: none.
 * First in longer and longer strides, then in between. */
static int64_t
next_readable(struct walk *walk, int64_t bad)
{
	int64_t stride = 1, good = bad + 1;

	while (!can_read(walk, good)) {
		if (good > INT64_MAX / 4)
			return INT64_MAX;
		bad = good;
		stride *= 2;
		good += stride;
	}
	while (good - bad > 1) {
		int64_t middle = bad + (good - bad) / 2;
		if (can_read(walk, middle))
			good = middle;
		else
			bad = middle;
	}
	return good;
}

static void
walk_by_number(struct walk *walk)
{
	int64_t from = 0;

	while (from < INT64_MAX) {
		int64_t last = from - 1;
		sqlite3_bind_int64(walk->rows, 1, from);
		if (put_rows(walk, &last))
			return;
		int64_t bad = last >= from ? last + 1 : from;
		int64_t next = next_readable(walk, bad);
		/* of a number that several rows have, some may have been put */
		add_hole(walk, walk->unique || last < from ? bad : last, next - 1);
		from = next > from ? next : from + 1;
	}
}

/* What has no numbers is read from both ends. */
static void
walk_from_ends(struct walk *walk, const struct text *columns, const char *key)
{
	char rest[128];
	int64_t last;

	if (put_rows(walk, &last))
		return;
	walk->walked->places++;
	sqlite3_finalize(walk->rows);
	snprintf(rest, sizeof rest, "ORDER BY %s DESC", key);
	walk->rows = prepare_rows(walk, columns, "1", rest);
	if (walk->rows != NULL)
		put_rows(walk, &last);
}

/* --- as a whole ---------------------------------------------------------------------------- */

/* The first column of the key of a table without row numbers; else "rowid". */
static void
find_key(const struct walk *walk, char key[static 64], bool *numbered)
{
	char sql[320];

	text_copy(key, 64, "rowid");
	*numbered = true;
	snprintf(sql, sizeof sql,
	    "SELECT name, type FROM pragma_table_info('%s') WHERE pk = 1 AND"
	    " (SELECT wr FROM pragma_table_list('%s'))",
	    walk->table, walk->table);
	sqlite3_stmt *statement = database_prepare(walk->to, sql, NULL);
	if (statement != NULL && sqlite3_step(statement) == SQLITE_ROW) {
		column_text(statement, 0, key, 64);
		*numbered = strcmp(column_string(statement, 1), "INTEGER") == 0;
	}
	sqlite3_finalize(statement);
}

static int
walk_table(struct walk *walk, const struct text *columns, int count)
{
	char key[64], rest[200];
	bool numbered;

	find_key(walk, key, &numbered);
	walk->put = prepare_put(walk, columns, count);
	if (walk->put == NULL)
		return ERROR_IO;
	if (numbered)
		snprintf(rest, sizeof rest, "WHERE %s >= ?1 ORDER BY %s", key, key);
	else
		snprintf(rest, sizeof rest, "ORDER BY %s", key);
	walk->rows = prepare_rows(walk, columns, numbered ? key : "1", rest);
	walk->numbered = numbered;
	walk->unique = strcmp(key, "rowid") == 0;
	if (walk->rows == NULL && numbered)
		add_hole(walk, 0, INT64_MAX);
	else if (walk->rows == NULL)
		walk->walked->places++;
	else if (numbered)
		walk_by_number(walk);
	else
		walk_from_ends(walk, columns, key);
	return walk->code;
}

int
ledger_walk(sqlite3 *from, sqlite3 *to, const char *table, struct ledger_walked *walked,
    struct error *error)
{
	struct walk walk = {
	    .from = from, .to = to, .table = table, .walked = walked, .error = error};
	struct text columns;
	int count = 0;

	*walked = (struct ledger_walked){0};
	text_init(&columns, COLUMNS_ROOM);
	int code = database_run(to,
	    "CREATE TEMP TABLE IF NOT EXISTS hole (name TEXT, low INTEGER,"
	    " high INTEGER)",
	    error);
	if (code == 0)
		code = list_columns(&walk, &columns, &count);
	if (code == 0)
		code = walk_table(&walk, &columns, count);
	text_release(&columns);
	sqlite3_finalize(walk.rows);
	sqlite3_finalize(walk.put);
	return code;
}
