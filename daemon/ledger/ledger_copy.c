/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_copy.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <time.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_lock.h"

enum { STEPS_A_LOOK = 100000 }; /* of SQLite's machine, between two tellings */

#define SPARE (INT64_C(64) << 20) /* left to the daemon on its disk */

static const char *const suffixes[] = {"", "-wal", "-shm", "-journal"};

static int
system_error(const char *what, const char *path, struct error *error)
{
	int reason = errno;

	return error_set(error,
	    reason == ENOSPC || reason == EDQUOT ? ERROR_FULL : ERROR_IO, "%s '%s': %s",
	    what, path, strerrordesc_np(reason));
}

/* --- where it goes -------------------------------------------------------------------- */

static bool
is_same_file(const char *one, const char *other)
{
	struct stat a, b;

	return stat(one, &a) == 0 && stat(other, &b) == 0 && a.st_dev == b.st_dev &&
	       a.st_ino == b.st_ino;
}

static int
check_target(const char *ledger, const char *to, bool over, struct error *error)
{
	struct stat there;

	if (is_same_file(ledger, to))
		return error_set(error, ERROR_INVALID, "'%s' is the ledger itself", to);
	if (lstat(to, &there) != 0)
		return 0;
	if (!S_ISREG(there.st_mode))
		return error_set(
		    error, ERROR_INVALID, "'%s' is there, and is no file", to);
	if (!over)
		return error_set(error, ERROR_INVALID,
		    "'%s' is there already: say another name, or --force", to);
	/* Another file in the place of a ledger whose WAL stays would be ruined by it. */
	if (ledger_lock_held(to) || database_has_wal(to))
		return error_set(error, ERROR_INVALID,
		    "'%s' is a ledger in use: say another name", to);
	return 0;
}

static void
remove_part(const struct ledger_copy *copy)
{
	char name[COPY_PATH + 16];

	for (size_t i = 0; i < sizeof suffixes / sizeof suffixes[0]; i++) {
		snprintf(name, sizeof name, "%s%s", copy->part, suffixes[i]);
		unlink(name);
	}
}

/* SQLite's memory for sharing is not needed, and not every disk has it. */
static const char pragmas[] = "PRAGMA locking_mode = EXCLUSIVE;"
			      "PRAGMA synchronous = OFF;"
			      "PRAGMA secure_delete = OFF";

int
ledger_copy_begin(struct ledger_copy *copy, const char *ledger, const char *to,
    bool over, struct error *error)
{
	*copy = (struct ledger_copy){0};
	int code = check_target(ledger, to, over, error);

	if (code != 0)
		return code;
	if (!text_copy(copy->to, sizeof copy->to, to) ||
	    snprintf(copy->part, sizeof copy->part, "%s.part", to) >= COPY_PATH)
		return error_set(error, ERROR_INVALID, "'%s': too long a path", to);
	remove_part(copy);
	int fd = open(copy->part, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0640);
	if (fd < 0)
		return system_error("make", copy->part, error);
	close(fd);
	copy->part_there = true;
	code = database_open(copy->part, DATABASE_WRITE, &copy->db, error);
	return code != 0 ? code : database_run(copy->db, pragmas, error);
}

int
ledger_copy_room(const struct ledger_copy *copy, const char *ledger, int64_t bytes,
    struct error *error)
{
	struct statvfs disk;
	struct stat of_ledger, of_copy;

	if (statvfs(copy->part, &disk) != 0 || stat(ledger, &of_ledger) != 0 ||
	    stat(copy->part, &of_copy) != 0)
		return 0; /* writing tells */
	int64_t left = (int64_t)(disk.f_bavail * disk.f_frsize);
	if (of_ledger.st_dev == of_copy.st_dev)
		left -= SPARE;
	if (bytes <= left)
		return 0;
	return error_set(error, ERROR_FULL,
	    "'%s' needs %.1f MB, and its disk has %.1f%s", copy->to,
	    (double)bytes / 1e6, left > 0 ? (double)left / 1e6 : 0.0,
	    of_ledger.st_dev == of_copy.st_dev ? " to spare beside the ledger" : "");
}

/* --- what it says of itself ------------------------------------------------------------- */

int
ledger_copy_mark(struct ledger_copy *copy, struct error *error)
{
	char sql[256];
	struct timespec now;

	clock_gettime(CLOCK_REALTIME, &now);
	snprintf(sql, sizeof sql,
	    "BEGIN; DELETE FROM copied; DELETE FROM in_flight;"
	    " INSERT INTO copied (at) VALUES (%lld); COMMIT",
	    (long long)now.tv_sec * 1000000000);
	int code = database_run(copy->db, "PRAGMA journal_mode = DELETE", error);
	return code != 0 ? code : database_run(copy->db, sql, error);
}

/* --- whether it is whole ------------------------------------------------------------------ */

struct looking {
	const struct ledger_backup_watch *watch;
};

static int
look(void *arg)
{
	const struct looking *looking = arg;

	looking->watch->tell(looking->watch->arg, BACKUP_CHECKING, NAN);
	return 0;
}

/* A copy is page by page what was read. */
static int
not_whole(const char *why, struct error *error)
{
	char line[200];

	database_plain(why, line, sizeof line);
	return error_set(error, ERROR_DAMAGED,
	    "the ledger is damaged, so there is no copy: %s: what can still be read is "
	    "got out with 'evensoak backup --salvage'",
	    line);
}

static int
check_whole(sqlite3 *db, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(db,
	    "SELECT integrity_check FROM pragma_integrity_check(1)"
	    " UNION ALL SELECT 'a row of ' || \"table\" || ' points to nothing'"
	    " FROM pragma_foreign_key_check",
	    error);
	if (statement == NULL)
		return ERROR_IO;
	int code = 0, step;

	while (code == 0 && (step = sqlite3_step(statement)) != SQLITE_DONE) {
		if (step != SQLITE_ROW)
			code = database_failed(db, error, "check the copy");
		else if (strcmp(column_string(statement, 0), "ok") != 0)
			code = not_whole(column_string(statement, 0), error);
	}
	sqlite3_finalize(statement);
	return code;
}

static int
count_all(sqlite3 *db, struct ledger_backup *made, struct error *error)
{
	struct {
		const char *sql;
		int64_t *to;
	} counts[] = {
	    {"SELECT count(*) FROM shot", &made->shots},
	    {"SELECT count(*) FROM event", &made->events},
	    {"SELECT min(filed_at) FROM shot", &made->first.ns},
	    {"SELECT max(filed_at) FROM shot", &made->last.ns},
	};
	int code = 0;

	for (size_t i = 0; i < sizeof counts / sizeof counts[0] && code == 0; i++)
		code = database_integer(db, counts[i].sql, counts[i].to, error);
	return code;
}

int
ledger_copy_check(struct ledger_copy *copy, const struct ledger_backup_watch *watch,
    struct ledger_backup *made, struct error *error)
{
	struct looking looking = {watch};

	if (watch != NULL)
		sqlite3_progress_handler(copy->db, STEPS_A_LOOK, look, &looking);
	int code = check_whole(copy->db, error);
	if (code == 0)
		code = count_all(copy->db, made, error);
	sqlite3_progress_handler(copy->db, 0, NULL, NULL);
	return code;
}

/* --- to the disk ----------------------------------------------------------------------------- */

static int
sync_path(const char *path, int flags, struct error *error)
{
	int fd = open(path, flags | O_CLOEXEC);

	if (fd < 0)
		return system_error("open", path, error);
	int code = fsync(fd) == 0 || errno == EINVAL
	               ? 0 /* EINVAL: such a file system has no fsync of folders */
	               : system_error("write to the disk", path, error);
	close(fd);
	return code;
}

static int
sync_folder(const char *path, struct error *error)
{
	char folder[COPY_PATH];

	text_copy(folder, sizeof folder, path);
	char *slash = strrchr(folder, '/');
	if (slash != NULL)
		slash[slash == folder] = '\0';
	return sync_path(slash != NULL ? folder : ".", O_RDONLY | O_DIRECTORY, error);
}

int
ledger_copy_end(
    struct ledger_copy *copy, struct ledger_backup *made, struct error *error)
{
	struct stat status;
	int code;

	if (sqlite3_close(copy->db) != SQLITE_OK)
		return database_failed(copy->db, error, "close '%s'", copy->part);
	copy->db = NULL;
	code = sync_path(copy->part, O_RDONLY, error);
	if (code != 0)
		return code;
	if (stat(copy->part, &status) != 0)
		return system_error("look at", copy->part, error);
	made->bytes = status.st_size;
	if (rename(copy->part, copy->to) != 0)
		return system_error("name the copy", copy->to, error);
	copy->part_there = false;
	return sync_folder(copy->to, error);
}

void
ledger_copy_release(struct ledger_copy *copy)
{
	sqlite3_close(copy->db);
	copy->db = NULL;
	if (copy->part_there)
		remove_part(copy);
	copy->part_there = false;
}
