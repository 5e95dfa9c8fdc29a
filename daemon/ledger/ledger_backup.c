/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_backup.h"

#include <stdio.h>
#include <sys/stat.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_copy.h"
#include "daemon/ledger/ledger_read_inside.h"

enum { PAGES_A_STEP = 1024 }; /* 2 MB */

static int64_t
wal_bytes(const char *path)
{
	char name[4200];
	struct stat status;

	snprintf(name, sizeof name, "%s-wal", path);
	return stat(name, &status) == 0 ? status.st_size : 0;
}

/* What the copy says went wrong; when it was the reading of the ledger, its own words are
 * lost: SQLITE_CORRUPT can only come from there. */
static int
copy_failed(struct ledger_copy *copy, int step, struct error *error)
{
	if ((step & 0xff) == SQLITE_CORRUPT)
		return error_set(error, ERROR_IO,
		    "the ledger is damaged: save what can still be read with "
		    "'evensoak backup FILE --salvage'");
	return database_failed(copy->db, error, "write '%s'", copy->part);
}

/*
 * All pages as of one instant: a reading transaction is open on the ledger, so that the
 * copy goes on where it was after each step.  Without it every write of the daemon's would
 * make SQLite begin at the first page again.
 */
static int
copy_pages(struct ledger_read *ledger, struct ledger_copy *copy,
    const struct ledger_backup_watch *watch, struct error *error)
{
	int64_t wal_most = wal_bytes(ledger->path) + BACKUP_WAL_MOST;
	sqlite3_backup *backup =
	    sqlite3_backup_init(copy->db, "main", ledger->db, "main");
	int step, code = 0;

	if (backup == NULL)
		return database_failed(copy->db, error, "write '%s'", copy->part);
	while ((step = sqlite3_backup_step(backup, PAGES_A_STEP)) == SQLITE_OK) {
		int all = sqlite3_backup_pagecount(backup);
		if (watch != NULL && all > 0)
			watch->tell(watch->arg, BACKUP_COPYING,
			    1 - (double)sqlite3_backup_remaining(backup) / all);
		if (wal_bytes(ledger->path) > wal_most) {
			code = error_set(error, ERROR_IO,
			    "given up: the ledger's WAL has grown by more than %lld MB "
			    "meanwhile; copy to a faster disk",
			    (long long)(BACKUP_WAL_MOST >> 20));
			break;
		}
	}
	sqlite3_backup_finish(backup);
	if (code == 0 && step != SQLITE_DONE)
		code = copy_failed(copy, step, error);
	return code;
}

static int
copy_snapshot(struct ledger_read *ledger, struct ledger_copy *copy,
    const struct ledger_backup_watch *watch, struct error *error)
{
	int64_t bytes = 0;
	int code = database_run(ledger->db, "BEGIN", error);

	if (code == 0) /* the transaction begins with the first thing read */
		code = database_integer(ledger->db,
		    "SELECT page_count * page_size FROM pragma_page_count,"
		    " pragma_page_size, (SELECT count(*) FROM line)",
		    &bytes, error);
	if (code == 0)
		code = ledger_copy_room(copy, ledger->path, bytes, error);
	if (code == 0)
		code = copy_pages(ledger, copy, watch, error);
	sqlite3_exec(ledger->db, "ROLLBACK", NULL, NULL, NULL);
	return code;
}

static int
make_copy(struct ledger_read *ledger, struct ledger_copy *copy,
    const struct ledger_backup_watch *watch, struct ledger_backup *made,
    struct error *error)
{
	int code = copy_snapshot(ledger, copy, watch, error);

	if (code == 0)
		code = ledger_copy_mark(copy, error);
	if (code == 0)
		code = ledger_copy_check(copy, watch, made, error);
	return code == 0 ? ledger_copy_end(copy, made, error) : code;
}

int
ledger_backup(const char *ledger, const char *to, bool over,
    const struct ledger_backup_watch *watch, struct ledger_backup *made,
    struct error *error)
{
	struct ledger_backup result = {0};
	struct ledger_copy copy;
	struct ledger_read *read = ledger_read_open(ledger, error);

	if (read == NULL)
		return ERROR_IO;
	int code = ledger_copy_begin(&copy, ledger, to, over, error);
	if (code == 0)
		code = make_copy(read, &copy, watch, &result, error);
	ledger_copy_release(&copy);
	ledger_read_close(read);
	if (code == 0)
		*made = result;
	return code;
}
