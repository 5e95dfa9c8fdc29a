/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/ledger/access.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_lock.h"
#include "daemon/ledger/schema.h"

/*
 * Small pages: a shot touches a dozen of them, and each touched page goes whole into
 * the WAL.  With pages of 4096 bytes a shot costs 1.6 times as much,
 * and no less of the disk; with 1024 it costs a quarter less of both, but one of 144
 * features fills more than a page and is read 2.5 times as slowly.  Where SQLite is
 * built to wipe what is deleted, a forgotten trace would go through the WAL once more.
 */
static const char pragmas[] = "PRAGMA page_size = 2048;"
			      "PRAGMA synchronous = FULL;"
			      "PRAGMA secure_delete = OFF;"
			      "PRAGMA wal_autocheckpoint = 1000;"
			      "PRAGMA journal_size_limit = 4194304;";

/* Refuses what is not ours, or newer than we are, before anything can be written. */
static int
look_first(const char *path, struct error *error)
{
	sqlite3 *db = NULL;
	int version;

	if (access(path, F_OK) != 0)
		return 0;
	int code = database_open(path,
	    database_has_journal(path) ? DATABASE_WRITE
	    : database_has_wal(path)   ? DATABASE_READ
				       : DATABASE_READ_IMMUTABLE,
	    &db, error);
	if (code != 0)
		return code;
	code = schema_look(db, path, SCHEMA_VERSION, &version, error);
	sqlite3_close(db);
	return code;
}

static int
use_wal(sqlite3 *db, const char *path, struct error *error)
{
	sqlite3_stmt *statement =
	    database_prepare(db, "PRAGMA journal_mode = WAL", error);

	if (statement == NULL)
		return database_code(db);
	int code = 0;
	if (sqlite3_step(statement) != SQLITE_ROW)
		code = database_failed(db, error, "open ledger '%s'", path);
	else if (strcmp(column_string(statement, 0), "wal") != 0)
		code = error_set(error, ERROR_IO,
		    "open ledger '%s': this file system cannot share memory between "
		    "programs; put the ledger on a local disk",
		    path);
	sqlite3_finalize(statement);
	return code;
}

static int
prepare_all(struct ledger *ledger, struct error *error)
{
	for (int i = 0; i < STATEMENT_COUNT; i++) {
		ledger->statements[i] =
		    database_prepare(ledger->db, ledger_sql[i], error);
		if (ledger->statements[i] == NULL)
			return database_code(ledger->db);
	}
	return 0;
}

/*
 * SQLite makes its files for the owner to write; whether the group may (people who enter
 * tools and lots) is for the process's umask to say.  Never through a descriptor: closing
 * one drops all locks that SQLite holds on the file in this process, and the next program
 * to come takes the WAL for left behind and removes it.  What fails here, opening tells.
 */
static void
make_file(const char *path)
{
	(void)mknod(path, S_IFREG | 0664, 0); /* what is there stays as it is */
}

static int
open_steps(struct ledger *ledger, const char *path, struct error *error)
{
	int code = look_first(path, error);

	if (code == 0) {
		make_file(path);
		code = database_open(path, DATABASE_WRITE, &ledger->db, error);
	}
	if (code == 0)
		code = database_run(ledger->db, pragmas, error);
	if (code == 0)
		code = use_wal(ledger->db, path, error);
	if (code == 0)
		code = schema_upgrade(ledger->db, path, &schema_steps, error);
	if (code == 0)
		code = database_run(ledger->db, "PRAGMA foreign_keys = ON", error);
	if (code == 0)
		code = prepare_all(ledger, error);
	if (code == 0 && ledger_lock_own_run() != 0) /* we are the daemon */
		code = ledger_settle_copy(ledger, clock_wall(), error);
	return code;
}

struct ledger *
ledger_open(const char *path, int *code, struct error *error)
{
	struct ledger *ledger = calloc(1, sizeof *ledger);
	int failed;

	if (ledger == NULL)
		failed = error_set(error, ERROR_MEMORY, "out of memory");
	else
		failed = open_steps(ledger, path, error);
	if (failed == 0)
		return ledger;
	if (failed == ERROR_IO)
		access_check(path, error); /* tells more when that is why */
	ledger_close(ledger);
	if (code != NULL)
		*code = failed;
	return NULL;
}

void
ledger_close(struct ledger *ledger)
{
	if (ledger == NULL)
		return;
	ledger_set_hasty(ledger, false, NULL);
	filed_setup_release(&ledger->setup);
	told_release(&ledger->told);
	for (int i = 0; i < STATEMENT_COUNT; i++)
		sqlite3_finalize(ledger->statements[i]);
	sqlite3_close(ledger->db);
	free(ledger);
}

struct binding
ledger_bind(struct ledger *ledger, enum ledger_statement statement)
{
	return bind_start(ledger->statements[statement]);
}

int
ledger_run(struct ledger *ledger, struct binding *binding, struct error *error)
{
	if (bind_run(binding) == SQLITE_DONE)
		return 0;
	return database_failed(ledger->db, error, "ledger");
}

int
ledger_run_with(struct ledger *ledger, const char *sql, const int64_t *values,
    int count, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(ledger->db, sql, error);

	if (statement == NULL)
		return database_code(ledger->db);
	struct binding binding = bind_start(statement);
	for (int i = 0; i < count; i++)
		bind_integer(&binding, values[i]);
	int code = ledger_run(ledger, &binding, error);
	sqlite3_finalize(statement);
	return code;
}

int
ledger_integer(
    struct ledger *ledger, struct binding *binding, int64_t *value, struct error *error)
{
	switch (bind_step(binding)) {
	case SQLITE_ROW:
		*value = sqlite3_column_int64(binding->statement, 0);
		sqlite3_reset(binding->statement);
		return 0;
	case SQLITE_DONE:
		*value = 0;
		return 0;
	default:
		return database_failed(ledger->db, error, "ledger");
	}
}

int
ledger_next_change(struct ledger *ledger, int64_t *change, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_NEXT_CHANGE);
	return ledger_integer(ledger, &binding, change, error);
}

int
ledger_line_id(
    struct ledger *ledger, const char *line, int64_t *id, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_LINE_ID);

	bind_text(&binding, line);
	int code = ledger_integer(ledger, &binding, id, error);
	if (code == 0 && *id == 0)
		return error_set(error, ERROR_NOT_FOUND,
		    "the ledger knows no line '%s'; a line is known once evensoakd "
		    "has run with it",
		    line);
	return code;
}

int
ledger_check_text(
    const char *what, const char *text, size_t maximum, struct error *error)
{
	if (text == NULL || strlen(text) <= maximum)
		return 0;
	return error_set(
	    error, ERROR_INVALID, "%s is longer than %zu bytes", what, maximum);
}

int
ledger_explain(struct ledger *ledger, int code, struct error *error)
{
	if (code == ERROR_IO) /* SQLite opens what it may not write, and fails later */
		access_check(sqlite3_db_filename(ledger->db, "main"), error);
	return code;
}
