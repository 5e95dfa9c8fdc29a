/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_read.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_lock.h"
#include "daemon/ledger/ledger_read_inside.h"
#include "daemon/ledger/schema.h"

static int
open_and_look(
    const char *path, enum database_mode mode, sqlite3 **db, struct error *error)
{
	int version;
	int code = database_open(path, mode, db, error);

	if (code != 0)
		return code;
	code = schema_look(*db, path, SCHEMA_VERSION, &version, error);
	if (code == 0 && version < SCHEMA_VERSION)
		return error_set(error, ERROR_NOT_FOUND,
		    version == 0
			? "'%s' is empty; evensoakd fills it when it starts"
			: "ledger '%s' is of an older version; evensoakd brings "
			  "it up to date when it starts",
		    path);
	return code;
}

/* SQLite cannot share a WAL database in a directory that it may not write, unless a
 * writer has its files there.  Without a WAL nobody writes, and nobody need be asked. */
static bool
may_be_immutable(const char *path, sqlite3 *db)
{
	int primary = sqlite3_errcode(db) & 0xff;

	return (primary == SQLITE_READONLY || primary == SQLITE_CANTOPEN) &&
	       access(path, R_OK) == 0 && !database_has_wal(path);
}

int
ledger_read_connect(const char *path, sqlite3 **db, struct error *error)
{
	struct error first;
	int code = open_and_look(path, DATABASE_READ, db, &first);

	if (code == 0)
		return 0;
	if (*db != NULL && may_be_immutable(path, *db)) {
		sqlite3_close(*db);
		*db = NULL;
		return open_and_look(path, DATABASE_READ_IMMUTABLE, db, error);
	}
	if (*db != NULL && (sqlite3_errcode(*db) & 0xff) == SQLITE_CANTOPEN &&
	    database_has_wal(path))
		return error_set(error, (enum error_code)code,
		    "'%s': what was written last lies in '%s-wal', which is read only "
		    "where its folder can be written: copy both files to such a one",
		    path, path);
	return error_set(error, (enum error_code)code, "%s", first.text);
}

bool
ledger_read_is_awaited(const char *path)
{
	struct error error;
	sqlite3 *db = NULL;

	if (access(path, F_OK) != 0)
		return errno == ENOENT;
	int code = ledger_read_connect(path, &db, &error);
	sqlite3_close(db);
	return code == ERROR_NOT_FOUND;
}

struct ledger_read *
ledger_read_open(const char *path, struct error *error)
{
	if (access(path, F_OK) != 0 && errno == ENOENT) {
		error_set(error, ERROR_NOT_FOUND,
		    "no ledger at '%s'; evensoakd makes it when it starts", path);
		return NULL;
	}
	if (access(path, R_OK) != 0) {
		error_set(error, ERROR_IO, "open ledger '%s': %s", path,
		    strerrordesc_np(errno));
		return NULL;
	}
	struct ledger_read *ledger = calloc(1, sizeof *ledger);
	if (ledger == NULL || !text_copy(ledger->path, sizeof ledger->path, path)) {
		error_set(error, ERROR_MEMORY, "open ledger '%s': out of memory", path);
		free(ledger);
		return NULL;
	}
	if (ledger_read_connect(path, &ledger->db, error) != 0) {
		ledger_read_close(ledger);
		return NULL;
	}
	return ledger;
}

void
ledger_read_close(struct ledger_read *ledger)
{
	if (ledger == NULL)
		return;
	told_release(&ledger->told);
	sqlite3_finalize(ledger->channels);
	free(ledger->names);
	sqlite3_close(ledger->db);
	free(ledger);
}

struct batch {
	char *rows;
	size_t want, count;
	const char *last; /* row of the batch before; NULL at first */
};

static int
read_batch(struct ledger_read *ledger, const struct row_source *source,
    struct batch *batch, struct error *error)
{
	struct binding binding = bind_start(source->statement);
	int step;

	source->bind_key(source->self, &binding, batch->last);
	bind_integer(&binding, (int64_t)batch->want);
	batch->count = 0;
	while ((step = bind_step(&binding)) == SQLITE_ROW)
		source->fill(source->self, binding.statement,
		    batch->rows + source->row_bytes * batch->count++);
	if (step != SQLITE_DONE)
		return database_failed(
		    ledger->db, error, "read ledger '%s'", ledger->path);
	return 0;
}

/* True when somebody has had enough. */
static bool
give_batch(const struct row_source *source, struct batch *batch)
{
	for (size_t i = 0; i < batch->count; i++) {
		batch->last = batch->rows + i * source->row_bytes;
		if (source->give(source->self, batch->last) != 0)
			return true;
	}
	return false;
}

int
row_source_run(
    struct ledger_read *ledger, const struct row_source *source, struct error *error)
{
	struct batch batch = {.rows = calloc(READ_BATCH, source->row_bytes)};
	size_t left = source->limit != 0 ? source->limit : SIZE_MAX;
	int code = 0;

	if (batch.rows == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	do {
		batch.want = left < READ_BATCH ? left : READ_BATCH;
		code = read_batch(ledger, source, &batch, error);
		if (code != 0 || give_batch(source, &batch))
			break;
		left -= batch.count;
	} while (batch.count == batch.want && left > 0);
	free(batch.rows);
	return code;
}

int
ledger_read_run(struct ledger_read *ledger, const char *sql, struct row_source source,
    struct error *error)
{
	source.statement = database_prepare(ledger->db, sql, error);
	if (source.statement == NULL)
		return ERROR_IO;
	int code = row_source_run(ledger, &source, error);
	sqlite3_finalize(source.statement);
	return code;
}

int
ledger_read_line(
    struct ledger_read *ledger, const char *name, int64_t *id, struct error *error)
{
	if (name == NULL) {
		*id = -1;
		return 0;
	}
	sqlite3_stmt *statement =
	    database_prepare(ledger->db, "SELECT id FROM line WHERE name = ?", error);
	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);
	bind_text(&binding, name);
	int step = bind_step(&binding), code = 0;
	if (step == SQLITE_ROW)
		*id = sqlite3_column_int64(statement, 0);
	else if (step == SQLITE_DONE)
		*id = 0;
	else
		code = database_failed(ledger->db, error, "read line '%s'", name);
	sqlite3_finalize(statement);
	return code;
}

enum absent
ledger_read_absent(sqlite3_stmt *statement, int column)
{
	const char *text = column_string(statement, column);

	for (int i = ABSENT_NOT; i < ABSENT_NOT_CONFIGURED; i++)
		if (strcmp(text, absent_text((enum absent)i)) == 0)
			return (enum absent)i;
	return ABSENT_NOT_CONFIGURED;
}

/* Most are complete, which is the last. */
enum shot_outcome
ledger_read_outcome(sqlite3_stmt *statement, int column)
{
	const char *text = column_string(statement, column);

	for (int i = SHOT_OUTCOME_COUNT - 1; i > 0; i--)
		if (strcmp(text, shot_outcome_text((enum shot_outcome)i)) == 0)
			return (enum shot_outcome)i;
	return (enum shot_outcome)0;
}

/* To the row of a configuration, of which `statement` gives what is wanted. */
static int
step_to_setup(struct ledger_read *ledger, sqlite3_stmt *statement, int64_t setup,
    struct error *error)
{
	struct binding binding = bind_start(statement);

	bind_integer(&binding, setup);
	switch (bind_step(&binding)) {
	case SQLITE_ROW:
		return 0;
	case SQLITE_DONE:
		return error_set(error, ERROR_NOT_FOUND,
		    "ledger '%s' has no configuration %lld", ledger->path,
		    (long long)setup);
	default:
		return database_failed(ledger->db, error, "read configuration");
	}
}

int
ledger_read_setup_hash(struct ledger_read *ledger, int64_t setup, char hash[static 17],
    struct error *error)
{
	sqlite3_stmt *statement =
	    database_prepare(ledger->db, "SELECT hash FROM setup WHERE id = ?", error);

	if (statement == NULL)
		return ERROR_IO;
	int code = step_to_setup(ledger, statement, setup, error);
	if (code == 0)
		column_text(statement, 0, hash, 17);
	sqlite3_finalize(statement);
	return code;
}

char *
ledger_read_setup(struct ledger_read *ledger, int64_t setup, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT text FROM setup WHERE id = coalesce(nullif(?, 0),"
	    " (SELECT max(id) FROM setup))",
	    error);
	if (statement == NULL)
		return NULL;
	char *text = NULL;

	if (step_to_setup(ledger, statement, setup, error) == 0) {
		text = strdup(column_string(statement, 0));
		if (text == NULL)
			error_set(error, ERROR_MEMORY, "out of memory");
	}
	sqlite3_finalize(statement);
	return text;
}

int
ledger_read_backlog(struct ledger_read *ledger, const char *destination, int64_t *shots,
    int64_t *refused, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT (SELECT count(*) FROM shot WHERE change > coalesce((SELECT change"
	    " FROM delivery WHERE destination = ?1 AND stream = 'shot'), 0)),"
	    " (SELECT count(*) FROM refusal WHERE destination = ?1)",
	    error);
	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);
	int code = 0;

	bind_text(&binding, destination);
	if (bind_step(&binding) == SQLITE_ROW) {
		*shots = sqlite3_column_int64(statement, 0);
		*refused = sqlite3_column_int64(statement, 1);
	} else {
		code = database_failed(ledger->db, error, "read backlog");
	}
	sqlite3_finalize(statement);
	return code;
}

static int64_t
bytes_of(const char *path, const char *suffix)
{
	char name[4200];
	struct stat status;

	snprintf(name, sizeof name, "%s%s", path, suffix);
	return stat(name, &status) == 0 ? status.st_size : 0;
}

int
ledger_read_summary(
    struct ledger_read *ledger, struct ledger_summary *summary, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT (SELECT count(*) FROM shot), (SELECT count(*) FROM event),"
	    " (SELECT min(filed_at) FROM shot), (SELECT max(filed_at) FROM shot),"
	    " EXISTS (SELECT 1 FROM health WHERE ?1 IN (run, 0))",
	    error);
	if (statement == NULL)
		return ERROR_IO;
	int code = 0;
	bool running = ledger_lock_held(ledger->path);

	sqlite3_bind_int64(statement, 1, ledger_lock_run(ledger->path));

	if (sqlite3_step(statement) == SQLITE_ROW)
		*summary = (struct ledger_summary){
		    .shots = sqlite3_column_int64(statement, 0),
		    .events = sqlite3_column_int64(statement, 1),
		    .first = column_time(statement, 2),
		    .last = column_time(statement, 3),
		    .bytes =
			bytes_of(ledger->path, "") + bytes_of(ledger->path, "-wal"),
		    .daemon_running = running,
		    .health_current = running && sqlite3_column_int(statement, 4) != 0,
		};
	else
		code = database_failed(ledger->db, error, "read summary");
	sqlite3_finalize(statement);
	return code;
}
