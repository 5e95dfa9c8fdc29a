/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_read.h"

#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read_inside.h"

enum { SQL_ROOM = 2048 };

/* --- events -------------------------------------------------------------------------- */

struct event_reader {
	const struct ledger_filter *filter;
	int (*take)(void *arg, const struct ledger_event *event);
	void *arg;
};

static void
event_key(void *self, struct binding *binding, const void *last)
{
	const struct event_reader *reader = self;
	const struct ledger_filter *filter = reader->filter;
	const struct ledger_event *event = last;

	if (filter->newest_first || filter->by_time) {
		int64_t start = filter->newest_first ? INT64_MAX : INT64_MIN;
		bind_integer(binding, event != NULL ? event->at.ns : start);
		bind_integer(binding, event != NULL ? event->change : -1);
	} else {
		bind_integer(
		    binding, event != NULL ? event->change : filter->after_change);
	}
}

static void
event_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct ledger_event *event = to;
	(void)self;

	event->change = sqlite3_column_int64(from, 0);
	column_text(from, 1, event->line, sizeof event->line);
	event->at = column_time(from, 2);
	column_text(from, 3, event->kind, sizeof event->kind);
	column_text(from, 4, event->text, sizeof event->text);
}

static int
event_give(void *self, const void *row)
{
	const struct event_reader *reader = self;
	return reader->take(reader->arg, row);
}

static void
event_sql(struct text *sql, const struct ledger_filter *filter, int64_t line)
{
	text_puts(sql,
	    "SELECT change, (SELECT name FROM line WHERE id = event.line), at,"
	    " kind, text FROM event WHERE ");
	text_puts(sql, filter->newest_first ? "(at, change) < (?, ?)"
		       : filter->by_time    ? "(at, change) > (?, ?)"
					    : "change > ?");
	if (filter->from.ns != 0)
		text_printf(sql, " AND at >= %lld", (long long)filter->from.ns);
	if (filter->to.ns != 0)
		text_printf(sql, " AND at < %lld", (long long)filter->to.ns);
	if (filter->after_change != 0)
		text_printf(sql, " AND change > %lld", (long long)filter->after_change);
	if (line >= 0)
		text_printf(sql, " AND line = %lld", (long long)line);
	text_puts(sql, filter->newest_first ? " ORDER BY at DESC, change DESC"
		       : filter->by_time    ? " ORDER BY at, change"
					    : " ORDER BY change");
	text_puts(sql, " LIMIT ?");
}

int
ledger_read_events(struct ledger_read *ledger, const struct ledger_filter *filter,
    int (*take)(void *arg, const struct ledger_event *event), void *arg,
    struct error *error)
{
	struct event_reader reader = {filter, take, arg};
	struct text sql;
	int64_t line;
	int code = ledger_read_line(ledger, filter->line, &line, error);

	if (code != 0)
		return code;
	text_init(&sql, SQL_ROOM);
	event_sql(&sql, filter, line);
	if (sql.failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	else
		code = ledger_read_run(ledger, sql.bytes,
		    (struct row_source){
			.row_bytes = sizeof(struct ledger_event),
			.limit = filter->limit,
			.bind_key = event_key,
			.fill = event_fill,
			.give = event_give,
			.self = &reader,
		    },
		    error);
	text_release(&sql);
	return code;
}

/* --- context ----------------------------------------------------------------------- */

struct context_row {
	int64_t id;
	struct ledger_context context;
};

struct context_reader {
	int64_t line; /* -1: all */
	int (*take)(void *arg, const struct ledger_context *context);
	void *arg;
};

static void
context_key(void *self, struct binding *binding, const void *last)
{
	const struct context_reader *reader = self;
	const struct context_row *row = last;

	bind_integer(binding, row != NULL ? row->context.from.ns : INT64_MIN);
	bind_integer(binding, row != NULL ? row->id : 0);
	bind_known(binding, reader->line);
}

static void
context_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct context_row *row = to;
	struct ledger_context *context = &row->context;
	(void)self;

	row->id = sqlite3_column_int64(from, 0);
	column_text(from, 1, context->line, sizeof context->line);
	column_text(from, 2, context->key, sizeof context->key);
	column_text(from, 3, context->value, sizeof context->value);
	context->from = column_time(from, 4);
	context->entered = column_time(from, 5);
}

static int
context_give(void *self, const void *row)
{
	const struct context_reader *reader = self;
	return reader->take(reader->arg, &((const struct context_row *)row)->context);
}

int
ledger_read_context(struct ledger_read *ledger, const char *line,
    int (*take)(void *arg, const struct ledger_context *context), void *arg,
    struct error *error)
{
	struct context_reader reader = {-1, take, arg};
	int code = ledger_read_line(ledger, line, &reader.line, error);

	if (code != 0)
		return code;
	return ledger_read_run(ledger,
	    "SELECT context.id, line.name, key, value, holds_from, entered_at FROM "
	    "context"
	    " JOIN line ON line.id = context.line WHERE (holds_from, context.id) > "
	    "(?1, ?2)"
	    " AND line.id = coalesce(?3, line.id) ORDER BY holds_from, context.id "
	    "LIMIT ?4",
	    (struct row_source){
		.row_bytes = sizeof(struct context_row),
		.bind_key = context_key,
		.fill = context_fill,
		.give = context_give,
		.self = &reader,
	    },
	    error);
}
