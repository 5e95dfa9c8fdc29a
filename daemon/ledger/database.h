/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the ledger asks of SQLite, in one place: opening, errors as sentences,
 * binding and reading with "unknown" as NULL.  Only for the files in this folder.
 * One connection belongs to one thread; everything may block on the disk.
 */
#ifndef DAEMON_LEDGER_DATABASE_H
#define DAEMON_LEDGER_DATABASE_H

#include "daemon/base/clock.h"

#include <sqlite3.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;

enum database_mode {
	DATABASE_WRITE, /* made when it is not there */
	DATABASE_READ,
	DATABASE_READ_IMMUTABLE, /* no locks: only while nobody writes */
};

/* `*db` is set only on success; sqlite3_close it.  Waits 5 s for another writer. */
int database_open(
    const char *path, enum database_mode mode, sqlite3 **db, struct error *error);

/* Whether it waits for others at all; it does at first. */
void database_set_waiting(sqlite3 *db, bool waits);

/* Whether changes wait beside the file: then it must not be read as immutable. */
bool database_has_wal(const char *path);

/* Whether its making, or a program that knows no WAL, was cut short: only who may write
 * can read it. */
bool database_has_journal(const char *path);

/* ERROR_FULL, ERROR_BUSY, ERROR_MEMORY, ERROR_DAMAGED or ERROR_IO, by the connection's last
 * error. */
int database_code(sqlite3 *db);

/* Sets "<what>: <SQLite's reason>"; returns that code. */
int database_failed(sqlite3 *db, struct error *error, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Runs one or more statements that give no rows. */
int database_run(sqlite3 *db, const char *sql, struct error *error);

/* The integer that `sql` gives in its first row; 0 when there is none. */
int database_integer(sqlite3 *db, const char *sql, int64_t *value, struct error *error);

/* NULL with the sentence in `error`; the code is the connection's. */
sqlite3_stmt *database_prepare(sqlite3 *db, const char *sql, struct error *error);

/*
 * Values for one run of a statement, in the order of its parameters.  The first
 * failure sticks and comes out of bind_step or bind_run.  Texts are lent until then.
 */
struct binding {
	sqlite3_stmt *statement;
	int index, code;
};
struct binding bind_start(sqlite3_stmt *statement);
void bind_null(struct binding *binding);
void bind_integer(struct binding *binding, int64_t value);
void bind_known(struct binding *binding, int64_t value); /* below 0: NULL */
void bind_number(struct binding *binding, double value); /* not finite: NULL */
void bind_time(struct binding *binding, struct wall at); /* 0: NULL */
void bind_text(struct binding *binding, const char *text);
void bind_label(struct binding *binding, const char *text); /* NULL, "": NULL */
void bind_bytes(struct binding *binding, const void *bytes, size_t count);

/* SQLITE_ROW (then sqlite3_reset when done), SQLITE_DONE (reset already) or an error. */
int bind_step(struct binding *binding);

/* For what gives at most one row that nobody wants: SQLITE_DONE or an error. */
int bind_run(struct binding *binding);

/* The bytes in the one column that a bound statement gives, the caller frees; NULL and 0
 * when it gives no row, or no bytes. */
int database_bytes(sqlite3 *db, struct binding *binding, void **bytes, size_t *count,
    struct error *error);

/* What SQLite's own check says, in one line and without the name it has for the file. */
void database_plain(const char *said, char *to, size_t room);

/* A column of the row there is; NULL reads as 0, NAN, "" and a time of 0. */
struct wall column_time(sqlite3_stmt *statement, int column);
double column_number(sqlite3_stmt *statement, int column);
const char *column_string(sqlite3_stmt *statement, int column); /* lent */
void column_text(sqlite3_stmt *statement, int column, char *to, size_t room);

#endif
