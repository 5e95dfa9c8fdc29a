/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger.h"

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"

enum { HASTY_PIECES = 500 }; /* in a transaction of a replay */

static int
begin(struct ledger *ledger, struct error *error)
{
	return database_run(ledger->db, "BEGIN IMMEDIATE", error);
}

/* In haste: one more piece of the transaction that is open, or the first of a new one. */
static int
begin_piece(struct ledger *ledger, struct error *error)
{
	if (sqlite3_get_autocommit(ledger->db) != 0) {
		int code = begin(ledger, error);
		if (code != 0)
			return code;
		ledger->pieces = 0;
	}
	return database_run(ledger->db, "SAVEPOINT piece", error);
}

static int
end_piece(struct ledger *ledger, int code, struct error *error)
{
	if (code == 0)
		code = database_run(ledger->db, "RELEASE piece", error);
	if (code == 0 && ++ledger->pieces >= HASTY_PIECES)
		return database_run(ledger->db, "COMMIT", error);
	/* A disk that fails may have taken the whole transaction already. */
	if (code != 0 && sqlite3_get_autocommit(ledger->db) == 0)
		sqlite3_exec(
		    ledger->db, "ROLLBACK TO piece; RELEASE piece", NULL, NULL, NULL);
	return code;
}

int
ledger_begin(struct ledger *ledger, struct error *error)
{
	return ledger->hasty ? begin_piece(ledger, error) : begin(ledger, error);
}

int
ledger_end(struct ledger *ledger, int code, struct error *error)
{
	if (ledger->hasty)
		return end_piece(ledger, code, error);
	if (code == 0)
		code = database_run(ledger->db, "COMMIT", error);
	/* On a full disk SQLite may have rolled back by itself already. */
	if (code != 0 && sqlite3_get_autocommit(ledger->db) == 0)
		sqlite3_exec(ledger->db, "ROLLBACK", NULL, NULL, NULL);
	return code;
}

int
ledger_begin_soft(struct ledger *ledger, struct error *error)
{
	if (ledger->hasty)
		return ledger_begin(ledger, error);
	int code = database_run(ledger->db, "PRAGMA synchronous = NORMAL", error);
	if (code != 0)
		return code;
	code = ledger_begin(ledger, error);
	return code == 0 ? 0 : ledger_end_soft(ledger, code, error);
}

int
ledger_end_soft(struct ledger *ledger, int code, struct error *error)
{
	code = ledger_end(ledger, code, error);
	if (ledger->hasty)
		return code;
	int full = database_run(
	    ledger->db, "PRAGMA synchronous = FULL", code == 0 ? error : NULL);
	return code == 0 ? full : code;
}

/* What haste has gathered and not yet committed. */
static int
commit_pieces(struct ledger *ledger, struct error *error)
{
	if (!ledger->hasty || sqlite3_get_autocommit(ledger->db) != 0)
		return 0;
	return database_run(ledger->db, "COMMIT", error);
}

/* Waits until the disk has a file of the ledger: SQLITE_FCNTL_FILE_POINTER, the ledger
 * itself, or SQLITE_FCNTL_JOURNAL_POINTER, its WAL. */
static int
sync_file(struct ledger *ledger, int which, struct error *error)
{
	sqlite3_file *file = NULL;
	int code = sqlite3_file_control(ledger->db, "main", which, &file);

	if (code == SQLITE_OK && file != NULL && file->pMethods != NULL)
		code = file->pMethods->xSync(file, SQLITE_SYNC_NORMAL);
	return code == SQLITE_OK
	           ? 0
	           : error_set(error, ERROR_IO, "ledger: the disk does not take it");
}

int
ledger_set_hasty(struct ledger *ledger, bool hasty, struct error *error)
{
	if (hasty == ledger->hasty)
		return 0;
	int code = commit_pieces(ledger, error);
	if (code == 0)
		code = database_run(ledger->db,
		    hasty ? "PRAGMA synchronous = OFF" : "PRAGMA synchronous = FULL",
		    error);
	/* From here on the ledger promises again what it does not wait for in haste. */
	if (code == 0 && !hasty)
		code = sync_file(ledger, SQLITE_FCNTL_JOURNAL_POINTER, error);
	if (code == 0 && !hasty)
		code = sync_file(ledger, SQLITE_FCNTL_FILE_POINTER, error);
	if (code == 0)
		ledger->hasty = hasty;
	return code;
}

int
ledger_checkpoint(struct ledger *ledger, struct error *error)
{
	int code = commit_pieces(ledger, error);

	if (code != 0)
		return code;
	/* Who waits here for a reader (a copy, a check) keeps all writers out meanwhile. */
	database_set_waiting(ledger->db, false);
	if (sqlite3_wal_checkpoint_v2(
		ledger->db, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL) != SQLITE_OK)
		code = database_failed(ledger->db, error, "checkpoint of the ledger");
	database_set_waiting(ledger->db, true);
	return code;
}
