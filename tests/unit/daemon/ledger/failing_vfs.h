/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A layer under SQLite that lets the Nth call fail, of all that can fail in reality:
 * also opening, reading, locking and the memory that programs share.  Once, or from there
 * on.
 */
#ifndef TESTS_UNIT_DAEMON_LEDGER_FAILING_VFS_H
#define TESTS_UNIT_DAEMON_LEDGER_FAILING_VFS_H

#include <stdbool.h>

#include "tests/unit/daemon/ledger/layer_vfs.h"

/* What the call that fails says. */
enum failing_how {
	FAILING_IO,   /* its own kind of SQLITE_IOERR; of an opening SQLITE_CANTOPEN */
	FAILING_FULL, /* SQLITE_FULL: writes, and what else asks for room */
	FAILING_CANTOPEN, /* SQLITE_CANTOPEN: openings, and files that are looked for */
	FAILING_SHORT,    /* fewer bytes than asked for: readings */
	FAILING_HOWS
};

static struct {
	bool on, lasting;
	enum failing_how how;
	int left; /* calls until it comes */
	int came; /* how often it has */
} failing;

static inline void
failing_set(enum failing_how how, bool lasting, int after)
{
	failing.on = true;
	failing.lasting = lasting;
	failing.how = how;
	failing.left = after;
	failing.came = 0;
}

/* Ends it; whether it had come. */
static inline bool
failing_end(void)
{
	failing.on = false;
	return failing.came > 0;
}

/* One way in which calls fail. */
struct failing_way {
	const char *name;
	enum failing_how how;
	bool lasting;
	int step; /* every call, or every so manieth */
};
static const struct failing_way failing_ways[] = {
    {"I/O error", FAILING_IO, false, 1},
    {"I/O error for good", FAILING_IO, true, 3},
    {"full", FAILING_FULL, false, 1},
    {"full for good", FAILING_FULL, true, 2},
    {"cannot open", FAILING_CANTOPEN, false, 1},
    {"cannot open for good", FAILING_CANTOPEN, true, 1},
};
enum { FAILING_WAYS = sizeof failing_ways / sizeof failing_ways[0] };

/* Which kinds of failing a call can show. */
enum {
	OF_IO = 1 << FAILING_IO,
	OF_FULL = 1 << FAILING_FULL,
	OF_OPENING = 1 << FAILING_CANTOPEN,
	OF_SHORT = 1 << FAILING_SHORT,
};

static inline bool
failing_now(int kinds)
{
	if (!failing.on || !(kinds & 1 << failing.how))
		return false;
	if (failing.left > 0) {
		failing.left--;
		return false;
	}
	if (failing.came > 0 && !failing.lasting)
		return false;
	failing.came++;
	return true;
}

static inline int
failing_code(int code)
{
	switch (failing.how) {
	case FAILING_IO:
	case FAILING_SHORT:
		return code;
	case FAILING_FULL:
		return SQLITE_FULL;
	case FAILING_CANTOPEN:
		return SQLITE_CANTOPEN;
	case FAILING_HOWS:
		break;
	}
	return SQLITE_ERROR;
}

/* --- files --------------------------------------------------------------------- */

static inline int
failing_read(sqlite3_file *file, void *to, int bytes, sqlite3_int64 at)
{
	if (!failing_now(OF_IO | OF_SHORT))
		return layer_read(file, to, bytes, at);
	if (failing.how == FAILING_IO)
		return SQLITE_IOERR_READ;
	memset(to, 0, (size_t)bytes); /* as SQLite wants it of what is not there */
	return SQLITE_IOERR_SHORT_READ;
}

static inline int
failing_write(sqlite3_file *file, const void *from, int bytes, sqlite3_int64 at)
{
	if (!failing_now(OF_IO | OF_FULL))
		return layer_write(file, from, bytes, at);
	/* A part of it got there. */
	layer_write(file, from, bytes / 2, at);
	return failing_code(SQLITE_IOERR_WRITE);
}

static inline int
failing_truncate(sqlite3_file *file, sqlite3_int64 size)
{
	return failing_now(OF_IO) ? SQLITE_IOERR_TRUNCATE : layer_truncate(file, size);
}

static inline int
failing_sync(sqlite3_file *file, int flags)
{
	return failing_now(OF_IO | OF_FULL) ? failing_code(SQLITE_IOERR_FSYNC)
	                                    : layer_sync(file, flags);
}

static inline int
failing_size(sqlite3_file *file, sqlite3_int64 *size)
{
	return failing_now(OF_IO) ? SQLITE_IOERR_FSTAT : layer_size(file, size);
}

static inline int
failing_lock(sqlite3_file *file, int level)
{
	return failing_now(OF_IO) ? SQLITE_IOERR_LOCK : layer_lock(file, level);
}

static inline int
failing_check(sqlite3_file *file, int *reserved)
{
	return failing_now(OF_IO) ? SQLITE_IOERR_CHECKRESERVEDLOCK
	                          : layer_check(file, reserved);
}

static inline int
failing_shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **map)
{
	return failing_now(OF_IO | OF_FULL)
	           ? failing.how == FAILING_IO ? SQLITE_IOERR_SHMMAP
	                                       : SQLITE_IOERR_SHMSIZE
	           : layer_shm_map(file, page, size, extend, map);
}

/* Giving a lock back does not fail. */
static inline int
failing_shm_lock(sqlite3_file *file, int offset, int count, int flags)
{
	return (flags & SQLITE_SHM_LOCK) && failing_now(OF_IO)
	           ? SQLITE_IOERR_SHMLOCK
	           : layer_shm_lock(file, offset, count, flags);
}

/* --- names --------------------------------------------------------------------- */

static inline int
failing_open(
    sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out)
{
	if (failing_now(OF_IO | OF_FULL | OF_OPENING)) {
		file->pMethods = NULL;
		return SQLITE_CANTOPEN;
	}
	return layer_open(vfs, name, file, flags, out);
}

static inline int
failing_delete(sqlite3_vfs *vfs, const char *name, int sync)
{
	sqlite3_vfs *real = vfs->pAppData;

	return failing_now(OF_IO) ? SQLITE_IOERR_DELETE
	                          : real->xDelete(real, name, sync);
}

static inline int
failing_access(sqlite3_vfs *vfs, const char *name, int flags, int *result)
{
	sqlite3_vfs *real = vfs->pAppData;

	return failing_now(OF_IO) ? SQLITE_IOERR_ACCESS
	                          : real->xAccess(real, name, flags, result);
}

static inline int
failing_full_path(sqlite3_vfs *vfs, const char *name, int room, char *to)
{
	sqlite3_vfs *real = vfs->pAppData;

	return failing_now(OF_IO | OF_OPENING)
	           ? SQLITE_CANTOPEN_FULLPATH
	           : real->xFullPathname(real, name, room, to);
}

static inline void
failing_change(sqlite3_vfs *vfs)
{
	vfs->xOpen = failing_open;
	vfs->xDelete = failing_delete;
	vfs->xAccess = failing_access;
	vfs->xFullPathname = failing_full_path;
	layer_methods.xRead = failing_read;
	layer_methods.xWrite = failing_write;
	layer_methods.xTruncate = failing_truncate;
	layer_methods.xSync = failing_sync;
	layer_methods.xFileSize = failing_size;
	layer_methods.xLock = failing_lock;
	layer_methods.xCheckReservedLock = failing_check;
	layer_methods.xShmMap = failing_shm_map;
	layer_methods.xShmLock = failing_shm_lock;
}

static inline int
failing_vfs_register(void)
{
	return layer_register("failing", failing_change);
}

#endif
