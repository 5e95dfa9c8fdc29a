/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_read.h"

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_read_inside.h"

struct health_row {
	int64_t position;
	char subject[LEDGER_NAME * 2], state[LEDGER_NAME], text[512];
	struct wall since, at;
	int64_t good, bad;
};

struct health_reader {
	int (*take)(void *arg, const struct ledger_health *health);
	void *arg;
};

static void
health_key(void *self, struct binding *binding, const void *last)
{
	const struct health_row *row = last;
	(void)self;

	bind_integer(binding, row != NULL ? row->position : -1);
}

static void
health_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct health_row *row = to;
	(void)self;

	row->position = sqlite3_column_int64(from, 0);
	column_text(from, 1, row->subject, sizeof row->subject);
	column_text(from, 2, row->state, sizeof row->state);
	column_text(from, 3, row->text, sizeof row->text);
	row->since = column_time(from, 4);
	row->at = column_time(from, 5);
	row->good = sqlite3_column_int64(from, 6);
	row->bad = sqlite3_column_int64(from, 7);
}

static int
health_give(void *self, const void *from)
{
	const struct health_reader *reader = self;
	const struct health_row *row = from;

	return reader->take(
	    reader->arg, &(struct ledger_health){row->subject, row->state, row->text,
			     row->since, row->at, row->good, row->bad});
}

int
ledger_read_health(struct ledger_read *ledger,
    int (*take)(void *arg, const struct ledger_health *health), void *arg,
    struct error *error)
{
	struct health_reader reader = {take, arg};

	return ledger_read_run(ledger,
	    "SELECT position, subject, state, text, since, at, good, bad FROM health"
	    " WHERE position > ? ORDER BY position LIMIT ?",
	    (struct row_source){
		.row_bytes = sizeof(struct health_row),
		.bind_key = health_key,
		.fill = health_fill,
		.give = health_give,
		.self = &reader,
	    },
	    error);
}

/* --- what the buses count of their devices ------------------------------------------ */

struct device_row {
	int64_t position;
	char device[LEDGER_NAME], line[LEDGER_NAME], bus[LEDGER_NAME * 3];
	char state[LEDGER_NAME], why[LEDGER_NAME];
	struct wall since, at;
	int64_t counts[LEDGER_COUNTS];
	double late_p99_s, late_worst_s;
	char port[512], bad_text[256];
	double period_s;
	struct wall state_since, bad_since, recent_since;
	int64_t bad_channels, recent[LEDGER_COUNTS];
};

struct device_reader {
	int (*take)(void *arg, const struct ledger_device *device);
	void *arg;
};

static void
device_key(void *self, struct binding *binding, const void *last)
{
	const struct device_row *row = last;
	(void)self;

	bind_integer(binding, row != NULL ? row->position : -1);
}

static void
device_fill_rest(sqlite3_stmt *from, int column, struct device_row *row)
{
	column_text(from, column++, row->port, sizeof row->port);
	row->period_s = column_number(from, column++);
	row->state_since = column_time(from, column++);
	row->bad_channels = sqlite3_column_int64(from, column++);
	row->bad_since = column_time(from, column++);
	column_text(from, column++, row->bad_text, sizeof row->bad_text);
	row->recent_since = column_time(from, column++);
	for (int i = LEDGER_COUNT_GOOD; i < LEDGER_COUNTS; i++)
		row->recent[i] = sqlite3_column_int64(from, column++);
}

static void
device_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct device_row *row = to;
	(void)self;

	row->position = sqlite3_column_int64(from, 0);
	column_text(from, 1, row->device, sizeof row->device);
	column_text(from, 2, row->line, sizeof row->line);
	column_text(from, 3, row->bus, sizeof row->bus);
	column_text(from, 4, row->state, sizeof row->state);
	column_text(from, 5, row->why, sizeof row->why);
	row->since = column_time(from, 6);
	row->at = column_time(from, 7);
	row->late_p99_s = column_number(from, 8);
	row->late_worst_s = column_number(from, 9);
	for (int i = 0; i < LEDGER_COUNTS; i++)
		row->counts[i] = sqlite3_column_int64(from, 10 + i);
	device_fill_rest(from, 10 + LEDGER_COUNTS, row);
}

static int
device_give(void *self, const void *from)
{
	const struct device_reader *reader = self;
	const struct device_row *row = from;
	struct ledger_device device = {.device = row->device,
	    .line = row->line,
	    .bus = row->bus,
	    .state = row->state,
	    .why = row->why,
	    .since = row->since,
	    .at = row->at,
	    .late_p99_s = row->late_p99_s,
	    .late_worst_s = row->late_worst_s,
	    .port = row->port,
	    .period_s = row->period_s,
	    .state_since = row->state_since,
	    .bad_channels = row->bad_channels,
	    .bad_since = row->bad_since,
	    .bad_text = row->bad_text,
	    .recent_since = row->recent_since};

	for (int i = 0; i < LEDGER_COUNTS; i++) {
		device.counts[i] = row->counts[i];
		device.recent[i] = row->recent[i];
	}
	return reader->take(reader->arg, &device);
}

int
ledger_read_devices(struct ledger_read *ledger,
    int (*take)(void *arg, const struct ledger_device *device), void *arg,
    struct error *error)
{
	struct device_reader reader = {take, arg};

	return ledger_read_run(ledger,
	    "SELECT position, device, line, bus, state, why, since, at, late_p99_s,"
	    " late_worst_s, scans, failures, late, opened, good, illegal, busy, fault,"
	    " gateway, none, wrong, lost, port, period_s, state_since, bad_channels,"
	    " bad_since, bad_text, recent_since, recent_good, recent_illegal,"
	    " recent_busy, recent_fault, recent_gateway, recent_none, recent_wrong,"
	    " recent_lost FROM device"
	    " WHERE position > ? ORDER BY position LIMIT ?",
	    (struct row_source){
		.row_bytes = sizeof(struct device_row),
		.bind_key = device_key,
		.fill = device_fill,
		.give = device_give,
		.self = &reader,
	    },
	    error);
}

static void
fill_logger(struct ledger_logger *logger, sqlite3_stmt *row)
{
	int64_t *const numbers[] = {&logger->started.ns, &logger->at.ns, &logger->polls,
	    &logger->failures, &logger->late, &logger->queue, &logger->queue_most,
	    &logger->dropped, &logger->waiting, &logger->lost, &logger->filed,
	    &logger->clock_steps, &logger->memory_bytes, &logger->ledger_bytes,
	    &logger->free_bytes};

	column_text(row, 0, logger->host, sizeof logger->host);
	column_text(row, 1, logger->version, sizeof logger->version);
	for (int i = 0; i < (int)(sizeof numbers / sizeof numbers[0]); i++)
		*numbers[i] = sqlite3_column_int64(row, 2 + i);
}

int
ledger_read_logger(
    struct ledger_read *ledger, struct ledger_logger *logger, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT host, version, started, at, polls, failures, late, queue,"
	    " queue_most, dropped, waiting, lost, filed, clock_steps, memory_bytes,"
	    " ledger_bytes, free_bytes FROM logger",
	    error);
	if (statement == NULL)
		return ERROR_IO;
	int code = 0, step = sqlite3_step(statement);

	if (step == SQLITE_ROW)
		fill_logger(logger, statement);
	else if (step == SQLITE_DONE)
		code = error_set(error, ERROR_NOT_FOUND,
		    "no evensoakd has told of itself in ledger '%s'", ledger->path);
	else
		code = database_failed(ledger->db, error, "read the logger");
	sqlite3_finalize(statement);
	return code;
}
