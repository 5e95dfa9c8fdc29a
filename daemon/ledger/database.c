/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/database.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum {
	BUSY_TIMEOUT_MS = 5000,
	PATH_ROOM = 4096,
	URI_ROOM = 3 * PATH_ROOM + 32, /* every byte escaped */
};

/* A path as a "file:" URI that opens without locks. */
static void
immutable_uri(const char *path, struct text *uri)
{
	text_puts(uri, "file:");
	for (const char *at = path; *at != '\0'; at++) {
		if (strchr("%?#", *at) != NULL)
			text_printf(uri, "%%%02X", (unsigned)(unsigned char)*at);
		else
			text_add(uri, at, 1);
	}
	text_puts(uri, "?immutable=1");
}

static int
open_file(const char *path, enum database_mode mode, sqlite3 **db)
{
	int flags = SQLITE_OPEN_NOMUTEX;

	switch (mode) {
	case DATABASE_WRITE:
		flags |= SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE;
		break;
	case DATABASE_READ:
		flags |= SQLITE_OPEN_READONLY;
		break;
	case DATABASE_READ_IMMUTABLE: {
		struct text uri;
		text_init(&uri, URI_ROOM);
		immutable_uri(path, &uri);
		int code =
		    uri.failed
			? SQLITE_NOMEM
			: sqlite3_open_v2(uri.bytes, db,
			      flags | SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, NULL);
		text_release(&uri);
		return code;
	}
	}
	return sqlite3_open_v2(path, db, flags, NULL);
}

int
database_open(
    const char *path, enum database_mode mode, sqlite3 **db, struct error *error)
{
	sqlite3 *opened = NULL;

	if (open_file(path, mode, &opened) != SQLITE_OK) {
		int code = database_failed(opened, error, "open ledger '%s'", path);
		sqlite3_close(opened);
		return code;
	}
	sqlite3_extended_result_codes(opened, 1);
	/* A trigger or view that somebody put into the file calls nothing but plain functions. */
	sqlite3_db_config(opened, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
	database_set_waiting(opened, true);
	*db = opened;
	return 0;
}

void
database_set_waiting(sqlite3 *db, bool waits)
{
	sqlite3_busy_timeout(db, waits ? BUSY_TIMEOUT_MS : 0);
}

/* Whether a file of SQLite's beside the ledger holds anything. */
static bool
has_beside(const char *path, const char *suffix)
{
	char beside[PATH_ROOM];
	struct stat status;
	char *real = realpath(path, NULL); /* not beside a link to it */

	int length =
	    snprintf(beside, sizeof beside, "%s%s", real != NULL ? real : path, suffix);
	free(real);
	if (length < 0 || (size_t)length >= sizeof beside)
		return true;
	return stat(beside, &status) == 0 ? status.st_size > 0 : errno != ENOENT;
}

bool
database_has_wal(const char *path)
{
	return has_beside(path, "-wal");
}

bool
database_has_journal(const char *path)
{
	return has_beside(path, "-journal");
}

int
database_code(sqlite3 *db)
{
	int system = sqlite3_system_errno(db);

	switch (sqlite3_errcode(db) & 0xff) {
	case SQLITE_FULL:
		return ERROR_FULL;
	case SQLITE_BUSY:
	case SQLITE_LOCKED:
		return ERROR_BUSY;
	case SQLITE_NOMEM:
		return ERROR_MEMORY;
	case SQLITE_IOERR:
	case SQLITE_CANTOPEN:
		return system == ENOSPC || system == EDQUOT ? ERROR_FULL : ERROR_IO;
	case SQLITE_CORRUPT:
		return ERROR_DAMAGED;
	default:
		return ERROR_IO;
	}
}

int
database_failed(sqlite3 *db, struct error *error, const char *format, ...)
{
	struct error what;
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(what.text, sizeof what.text, format, arguments);
	va_end(arguments);

	if (db == NULL)
		return error_set(error, ERROR_MEMORY, "%s: out of memory", what.text);
	int primary = sqlite3_errcode(db) & 0xff;
	int system = sqlite3_system_errno(db);
	int code = database_code(db);
	if (primary == SQLITE_NOTADB)
		return error_set(error, code,
		    "the file is not an SQLite database: no ledger, or its first page "
		    "was overwritten; that cannot be salvaged, put the last backup in "
		    "its place");
	if (primary == SQLITE_CORRUPT)
		return error_set(error, code,
		    "%s: the ledger is damaged (%s): what can still be read is got "
		    "out with 'evensoak backup --salvage'",
		    what.text, sqlite3_errmsg(db));
	if (system != 0 && (primary == SQLITE_CANTOPEN || primary == SQLITE_IOERR))
		return error_set(error, code, "%s: %s: %s", what.text,
		    sqlite3_errmsg(db), strerrordesc_np(system));
	return error_set(error, code, "%s: %s", what.text, sqlite3_errmsg(db));
}

/* How much of a statement is worth showing: its first line, cut. */
static int
shown(const char *sql)
{
	size_t length = strcspn(sql, "\n");
	return length > 60 ? 60 : (int)length;
}

int
database_run(sqlite3 *db, const char *sql, struct error *error)
{
	if (sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK)
		return 0;
	return database_failed(db, error, "ledger: %.*s", shown(sql), sql);
}

sqlite3_stmt *
database_prepare(sqlite3 *db, const char *sql, struct error *error)
{
	sqlite3_stmt *statement = NULL;

	if (sqlite3_prepare_v3(
		db, sql, -1, SQLITE_PREPARE_PERSISTENT, &statement, NULL) != SQLITE_OK)
		database_failed(db, error, "ledger: %.*s", shown(sql), sql);
	return statement;
}

int
database_integer(sqlite3 *db, const char *sql, int64_t *value, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(db, sql, error);
	int code = 0;

	if (statement == NULL)
		return database_code(db);
	int step = sqlite3_step(statement);
	if (step == SQLITE_ROW)
		*value = sqlite3_column_int64(statement, 0);
	else if (step == SQLITE_DONE)
		*value = 0;
	else
		code = database_failed(db, error, "ledger: %.*s", shown(sql), sql);
	sqlite3_finalize(statement);
	return code;
}

struct binding
bind_start(sqlite3_stmt *statement)
{
	sqlite3_reset(statement);
	return (struct binding){.statement = statement, .code = SQLITE_OK};
}

static void
keep(struct binding *binding, int code)
{
	if (binding->code == SQLITE_OK)
		binding->code = code;
}

void
bind_null(struct binding *binding)
{
	keep(binding, sqlite3_bind_null(binding->statement, ++binding->index));
}

void
bind_integer(struct binding *binding, int64_t value)
{
	keep(binding, sqlite3_bind_int64(binding->statement, ++binding->index, value));
}

void
bind_known(struct binding *binding, int64_t value)
{
	if (value < 0)
		bind_null(binding);
	else
		bind_integer(binding, value);
}

void
bind_number(struct binding *binding, double value)
{
	if (!isfinite(value))
		bind_null(binding);
	else
		keep(binding,
		    sqlite3_bind_double(binding->statement, ++binding->index, value));
}

void
bind_time(struct binding *binding, struct wall at)
{
	if (at.ns == 0)
		bind_null(binding);
	else
		bind_integer(binding, at.ns);
}

void
bind_text(struct binding *binding, const char *text)
{
	keep(binding, sqlite3_bind_text(binding->statement, ++binding->index, text, -1,
			  SQLITE_STATIC));
}

void
bind_label(struct binding *binding, const char *text)
{
	if (text == NULL || text[0] == '\0')
		bind_null(binding);
	else
		bind_text(binding, text);
}

void
bind_bytes(struct binding *binding, const void *bytes, size_t count)
{
	keep(binding, sqlite3_bind_blob64(binding->statement, ++binding->index,
			  count > 0 ? bytes : "", count, SQLITE_STATIC));
}

int
bind_step(struct binding *binding)
{
	if (binding->code != SQLITE_OK)
		return binding->code;
	int step = sqlite3_step(binding->statement);
	if (step != SQLITE_ROW)
		sqlite3_reset(binding->statement);
	return step;
}

int
bind_run(struct binding *binding)
{
	int step = bind_step(binding);
	if (step == SQLITE_ROW) {
		sqlite3_reset(binding->statement);
		return SQLITE_DONE;
	}
	return step;
}

static int
copy_bytes(sqlite3_stmt *statement, void **bytes, size_t *count, struct error *error)
{
	const void *from = sqlite3_column_blob(statement, 0);
	size_t length = (size_t)sqlite3_column_bytes(statement, 0);
	void *copy = malloc(length + 1);

	if (copy == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	memcpy(copy, from, length);
	*bytes = copy;
	*count = length;
	return 0;
}

int
database_bytes(sqlite3 *db, struct binding *binding, void **bytes, size_t *count,
    struct error *error)
{
	int step = bind_step(binding), code = 0;

	if (step == SQLITE_ROW && sqlite3_column_bytes(binding->statement, 0) > 0) {
		code = copy_bytes(binding->statement, bytes, count, error);
	} else if (step == SQLITE_ROW || step == SQLITE_DONE) {
		*bytes = NULL;
		*count = 0;
	} else {
		code = database_failed(db, error, "ledger");
	}
	sqlite3_reset(binding->statement);
	return code;
}

void
database_plain(const char *said, char *to, size_t room)
{
	const char *behind = strchr(said, '\n');

	if (strncmp(said, "*** in database ", 16) == 0 && behind != NULL)
		said = behind + 1;
	text_copy(to, room, said);
	for (char *at = to; *at != '\0'; at++)
		if (*at == '\n')
			*at = ' ';
}

struct wall
column_time(sqlite3_stmt *statement, int column)
{
	return (struct wall){sqlite3_column_int64(statement, column)};
}

/* NULL reads as 0, so only a 0 need be asked about: this runs for every value. */
double
column_number(sqlite3_stmt *statement, int column)
{
	double value = sqlite3_column_double(statement, column);

	if (value == 0 && sqlite3_column_type(statement, column) == SQLITE_NULL)
		return NAN;
	return value;
}

const char *
column_string(sqlite3_stmt *statement, int column)
{
	const char *text = (const char *)sqlite3_column_text(statement, column);
	return text != NULL ? text : "";
}

void
column_text(sqlite3_stmt *statement, int column, char *to, size_t room)
{
	text_copy(to, room, column_string(statement, column));
}
