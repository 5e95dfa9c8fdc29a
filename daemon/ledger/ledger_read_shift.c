/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shifts that have ended, read. */
#include "daemon/ledger/ledger_shift.h"

#include <limits.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read_inside.h"

enum { SQL_ROOM = 4096 };

struct shift_reader {
	int64_t after; /* change, or of the earlier ones revision */
	int (*take)(void *arg, const struct ledger_shift *shift);
	void *arg;
	bool by_revision;
};

static void
shift_key(void *self, struct binding *binding, const void *last)
{
	const struct shift_reader *reader = self;
	const struct ledger_shift *row = last;

	if (row == NULL)
		bind_integer(binding, reader->after);
	else
		bind_integer(
		    binding, reader->by_revision ? row->revision : row->change);
}

static void
shift_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct ledger_shift *row = to;
	(void)self;

	*row = (struct ledger_shift){
	    .change = sqlite3_column_int64(from, 0),
	    .revision = sqlite3_column_int64(from, 1),
	    .superseded = sqlite3_column_int64(from, 2),
	    .from = column_time(from, 5),
	    .to = column_time(from, 6),
	    .closed = column_time(from, 7),
	};
	column_text(from, 3, row->line, sizeof row->line);
	column_text(from, 4, row->shift, sizeof row->shift);
	column_text(from, 8, row->setup, sizeof row->setup);
	for (int i = 0; i < LEDGER_SHIFT_SUMS; i++)
		row->sum[i] = column_number(from, 9 + i);
}

static int
shift_give(void *self, const void *row)
{
	const struct shift_reader *reader = self;

	return reader->take(reader->arg, row);
}

/* "SELECT ... FROM shift_total t WHERE " */
static void
begin_sql(struct text *sql)
{
	text_init(sql, SQL_ROOM);
	text_puts(sql,
	    "SELECT change, revision, superseded, line.name, shift, from_at, to_at,"
	    " closed_at, setup");
	for (int i = 0; i < LEDGER_SHIFT_SUMS; i++)
		text_printf(
		    sql, ", %s", ledger_shift_sum_name((enum ledger_shift_sum)i));
	text_puts(
	    sql, " FROM shift_total JOIN line ON line.id = shift_total.line WHERE ");
}

/* Runs what was begun, and releases it. */
static int
run(struct ledger_read *ledger, struct text *sql, struct shift_reader *reader,
    size_t limit, struct error *error)
{
	int code = sql->failed ? error_set(error, ERROR_MEMORY, "out of memory")
	                       : ledger_read_run(ledger, sql->bytes,
				     (struct row_source){
					 .row_bytes = sizeof(struct ledger_shift),
					 .limit = limit,
					 .bind_key = shift_key,
					 .fill = shift_fill,
					 .give = shift_give,
					 .self = reader,
				     },
				     error);

	text_release(sql);
	return code;
}

/* From the shots on, which are few; no shift lasts longer than two days. */
#define WITH_LATER                                                            \
	" AND change IN (SELECT t.change FROM shot JOIN shift_total AS t ON"  \
	" t.line = shot.line AND t.from_at > shot.filed_at - 172800000000000" \
	" AND t.from_at <= shot.filed_at AND t.to_at > shot.filed_at"         \
	" WHERE shot.change > %lld AND shot.change <= %lld)"

int
ledger_read_shifts(struct ledger_read *ledger, const struct ledger_shift_filter *filter,
    int (*take)(void *arg, const struct ledger_shift *shift), void *arg,
    struct error *error)
{
	struct shift_reader reader = {filter->after_change, take, arg, false};
	struct text sql;
	int64_t line;
	int code = ledger_read_line(ledger, filter->line, &line, error);

	if (code != 0)
		return code;
	begin_sql(&sql);
	text_puts(&sql, "change > ? AND superseded IS NULL");
	if (line >= 0)
		text_printf(&sql, " AND line = %lld", (long long)line);
	if (filter->from.ns != 0)
		text_printf(&sql, " AND to_at > %lld", (long long)filter->from.ns);
	if (filter->to.ns != 0)
		text_printf(&sql, " AND from_at < %lld", (long long)filter->to.ns);
	if (filter->with_later != 0)
		text_printf(&sql, WITH_LATER, (long long)filter->with_later,
		    filter->with_to != 0 ? (long long)filter->with_to : LLONG_MAX);
	text_puts(&sql, " ORDER BY change LIMIT ?");
	return run(ledger, &sql, &reader, filter->limit, error);
}

int
ledger_read_shift_earlier(struct ledger_read *ledger, const struct ledger_shift *shift,
    int (*take)(void *arg, const struct ledger_shift *earlier), void *arg,
    struct error *error)
{
	struct shift_reader reader = {-1, take, arg, true};
	struct text sql;

	begin_sql(&sql);
	text_printf(&sql,
	    "revision > ? AND revision < %lld AND (shift_total.line, from_at, shift)"
	    " = (SELECT line, from_at, shift FROM shift_total WHERE change = %lld)"
	    " ORDER BY revision LIMIT ?",
	    (long long)shift->revision, (long long)shift->change);
	return run(ledger, &sql, &reader, 0, error);
}

/* --- the rows of one ----------------------------------------------------------------------- */

struct figures_row {
	int64_t id;
	struct ledger_shift_row row;
};

struct figures_reader {
	int64_t change;
	int (*take)(void *arg, const struct ledger_shift_row *row);
	void *arg;
};

static void
figures_key(void *self, struct binding *binding, const void *last)
{
	const struct figures_reader *reader = self;
	const struct figures_row *row = last;

	bind_integer(binding, reader->change);
	bind_integer(binding, row != NULL ? row->id : 0);
}

static void
figures_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct figures_row *row = to;
	(void)self;

	row->id = sqlite3_column_int64(from, 0);
	column_text(from, 1, row->row.recipe, sizeof row->row.recipe);
	column_text(from, 2, row->row.tool, sizeof row->row.tool);
	column_text(from, 3, row->row.characteristic, sizeof row->row.characteristic);
	for (int i = 0; i < LEDGER_SHIFT_FIGURES; i++)
		row->row.figure[i] = column_number(from, 4 + i);
}

static int
figures_give(void *self, const void *row)
{
	const struct figures_reader *reader = self;

	return reader->take(reader->arg, &((const struct figures_row *)row)->row);
}

int
ledger_read_shift_rows(struct ledger_read *ledger, int64_t change,
    int (*take)(void *arg, const struct ledger_shift_row *row), void *arg,
    struct error *error)
{
	struct figures_reader reader = {change, take, arg};
	struct text sql;

	text_init(&sql, SQL_ROOM);
	text_puts(&sql, "SELECT id, recipe, tool, characteristic");
	for (int i = 0; i < LEDGER_SHIFT_FIGURES; i++)
		text_printf(&sql, ", %s",
		    ledger_shift_figure_name((enum ledger_shift_figure)i));
	text_puts(&sql, " FROM shift_summary WHERE shift = ? AND id > ? ORDER BY id"
			" LIMIT ?");
	int code = sql.failed ? error_set(error, ERROR_MEMORY, "out of memory")
	                      : ledger_read_run(ledger, sql.bytes,
				    (struct row_source){
					.row_bytes = sizeof(struct figures_row),
					.bind_key = figures_key,
					.fill = figures_fill,
					.give = figures_give,
					.self = &reader,
				    },
				    error);
	text_release(&sql);
	return code;
}

int
ledger_read_shift_closing(
    struct ledger_read *ledger, int64_t *change, int64_t *last, struct error *error)
{
	int code = database_integer(
	    ledger->db, "SELECT max(change) FROM shift_closing", change, error);

	return code != 0 ? code
	                 : database_integer(
			       ledger->db, "SELECT max(change) FROM shot", last, error);
}
