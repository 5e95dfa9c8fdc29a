/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far sensors were found to be off. */
#include "daemon/ledger/ledger.h"

#include <math.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_read_inside.h"

enum { REMARK_BYTES = 255 }; /* of the instrument, and of who did it */

/* --- writing ------------------------------------------------------------------------ */

static int
check(const struct ledger_calibration *calibration, struct error *error)
{
	const char *device = calibration->device, *channel = calibration->channel;

	if (device == NULL || *device == '\0' || channel == NULL || *channel == '\0')
		return error_set(error, ERROR_INVALID, "its channel has no name");
	if (!isfinite(calibration->as_left))
		return error_set(
		    error, ERROR_INVALID, "how far it was left off is no number");
	if (isinf(calibration->as_found))
		return error_set(
		    error, ERROR_INVALID, "how far it was found off is no number");
	int code =
	    ledger_check_text("its device's name", device, LEDGER_NAME - 1, error);
	if (code == 0)
		code = ledger_check_text(
		    "its channel's name", channel, LEDGER_NAME - 1, error);
	if (code == 0)
		code = ledger_check_text("what it was checked with",
		    calibration->reference, REMARK_BYTES, error);
	return code != 0 ? code
	                 : ledger_check_text("the name of who did it", calibration->by,
			       REMARK_BYTES, error);
}

static int
put(struct ledger *ledger, const struct ledger_calibration *calibration,
    struct error *error)
{
	int64_t line = 0;
	int code = ledger_line_id(ledger, calibration->line, &line, error);

	if (code != 0)
		return code;
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_CALIBRATION);
	bind_integer(&binding, line);
	bind_text(&binding, calibration->device);
	bind_text(&binding, calibration->channel);
	bind_integer(&binding, calibration->at.ns);
	bind_number(&binding, calibration->as_found);
	bind_number(&binding, calibration->as_left);
	bind_time(&binding, calibration->due);
	bind_label(&binding, calibration->reference);
	bind_label(&binding, calibration->by);
	bind_integer(&binding, calibration->entered.ns);
	return ledger_run(ledger, &binding, error);
}

static int
put_all(struct ledger *ledger, const struct ledger_calibration *list, size_t count,
    size_t *at, struct error *error)
{
	int code = 0;

	for (*at = 0; *at < count; ++*at)
		if ((code = put(ledger, &list[*at], error)) != 0)
			break;
	return code;
}

int
ledger_put_calibrations(struct ledger *ledger, const struct ledger_calibration *list,
    size_t count, struct error *error)
{
	size_t at = 0;
	int code = 0;

	while (at < count && (code = check(&list[at], error)) == 0)
		at++;
	if (code == 0)
		code = ledger_begin(ledger, error);
	if (code == 0)
		code =
		    ledger_end(ledger, put_all(ledger, list, count, &at, error), error);
	if (code == 0)
		return 0;
	ledger_explain(ledger, code, error);
	if (at == count && count != 1)
		return error_prefix(error, code, "enter %zu calibrations", count);
	at = at < count ? at : 0;
	return error_prefix(error, code, "enter the calibration of '%s.%s'",
	    list[at].device != NULL ? list[at].device : "",
	    list[at].channel != NULL ? list[at].channel : "");
}

int
ledger_put_calibration(struct ledger *ledger,
    const struct ledger_calibration *calibration, struct error *error)
{
	return ledger_put_calibrations(ledger, calibration, 1, error);
}

/* --- reading ------------------------------------------------------------------------ */

struct row {
	int64_t id, line_id;
	char line[LEDGER_NAME], device[LEDGER_NAME], channel[LEDGER_NAME];
	char reference[REMARK_BYTES + 1], by[REMARK_BYTES + 1];
	struct wall at, due, entered;
	double as_found, as_left;
};

struct reader {
	int64_t line; /* -1: all */
	int (*take)(void *arg, const struct ledger_calibration *calibration);
	void *arg;
};

static void
bind_key(void *self, struct binding *binding, const void *last)
{
	const struct reader *reader = self;
	const struct row *row = last;

	bind_integer(binding, row != NULL ? row->line_id : -1);
	bind_text(binding, row != NULL ? row->device : "");
	bind_text(binding, row != NULL ? row->channel : "");
	bind_integer(binding, row != NULL ? row->at.ns : INT64_MIN);
	bind_integer(binding, row != NULL ? row->id : 0);
	bind_known(binding, reader->line);
}

static void
fill(void *self, sqlite3_stmt *from, void *to)
{
	struct row *row = to;
	(void)self;

	row->id = sqlite3_column_int64(from, 0);
	row->line_id = sqlite3_column_int64(from, 1);
	column_text(from, 2, row->line, sizeof row->line);
	column_text(from, 3, row->device, sizeof row->device);
	column_text(from, 4, row->channel, sizeof row->channel);
	row->at = column_time(from, 5);
	row->as_found = column_number(from, 6);
	row->as_left = column_number(from, 7);
	row->due = column_time(from, 8);
	column_text(from, 9, row->reference, sizeof row->reference);
	column_text(from, 10, row->by, sizeof row->by);
	row->entered = column_time(from, 11);
}

static int
give(void *self, const void *from)
{
	const struct reader *reader = self;
	const struct row *row = from;

	return reader->take(reader->arg, &(struct ledger_calibration){
					     .id = row->id,
					     .line = row->line,
					     .device = row->device,
					     .channel = row->channel,
					     .at = row->at,
					     .as_found = row->as_found,
					     .as_left = row->as_left,
					     .due = row->due,
					     .reference = row->reference,
					     .by = row->by,
					     .entered = row->entered,
					 });
}

int
ledger_read_calibrations(struct ledger_read *ledger, const char *line,
    int (*take)(void *arg, const struct ledger_calibration *calibration), void *arg,
    struct error *error)
{
	struct reader reader = {-1, take, arg};
	int code = ledger_read_line(ledger, line, &reader.line, error);

	if (code != 0)
		return code;
	return ledger_read_run(ledger,
	    "SELECT c.id, c.line, l.name, device, channel, holds_from, as_found,"
	    " as_left, due, checked_with, done_by, entered_at FROM calibration c"
	    " JOIN line l ON l.id = c.line"
	    " WHERE (c.line, device, channel, holds_from, c.id) > (?1, ?2, ?3, ?4, ?5)"
	    " AND c.line = coalesce(?6, c.line)"
	    " ORDER BY c.line, device, channel, holds_from, c.id LIMIT ?7",
	    (struct row_source){
		.row_bytes = sizeof(struct row),
		.bind_key = bind_key,
		.fill = fill,
		.give = give,
		.self = &reader,
	    },
	    error);
}
