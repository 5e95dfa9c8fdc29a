/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A layer under SQLite that counts what reaches the disk (fsyncs of every file, bytes
 * written to the WAL) and lets a write or an fsync fail.  It becomes the default, so the
 * ledger opens through it.
 */
#ifndef TESTS_UNIT_DAEMON_LEDGER_COUNTING_VFS_H
#define TESTS_UNIT_DAEMON_LEDGER_COUNTING_VFS_H

#include <sqlite3.h>
#include <stdint.h>
#include <string.h>

static struct {
	int64_t syncs, wal_bytes;
} counted;

/* After `left` more writes and fsyncs one fails with `code`; 0: none does. */
static struct {
	int code, left;
} fault;

static inline int
fault_now(void)
{
	if (fault.code == SQLITE_OK || fault.left-- > 0)
		return SQLITE_OK;
	int code = fault.code;
	fault.code = SQLITE_OK;
	return code;
}

/* SQLite's own file stands behind ours, in the same allocation. */
struct counting_file {
	sqlite3_file base;
	int is_wal;
};

static inline sqlite3_file *
counting_inner(sqlite3_file *file)
{
	return (sqlite3_file *)((struct counting_file *)file + 1);
}

static inline int
counting_close(sqlite3_file *file)
{
	return counting_inner(file)->pMethods->xClose(counting_inner(file));
}

static inline int
counting_read(sqlite3_file *file, void *to, int bytes, sqlite3_int64 at)
{
	return counting_inner(file)->pMethods->xRead(
	    counting_inner(file), to, bytes, at);
}

static inline int
counting_write(sqlite3_file *file, const void *from, int bytes, sqlite3_int64 at)
{
	int code = fault_now();

	if (code != SQLITE_OK)
		return code;
	if (((struct counting_file *)file)->is_wal)
		counted.wal_bytes += bytes;
	return counting_inner(file)->pMethods->xWrite(
	    counting_inner(file), from, bytes, at);
}

static inline int
counting_truncate(sqlite3_file *file, sqlite3_int64 size)
{
	return counting_inner(file)->pMethods->xTruncate(counting_inner(file), size);
}

static inline int
counting_sync(sqlite3_file *file, int flags)
{
	int code = fault_now();

	if (code != SQLITE_OK)
		return code;
	counted.syncs++;
	return counting_inner(file)->pMethods->xSync(counting_inner(file), flags);
}

static inline int
counting_size(sqlite3_file *file, sqlite3_int64 *size)
{
	return counting_inner(file)->pMethods->xFileSize(counting_inner(file), size);
}

static inline int
counting_lock(sqlite3_file *file, int level)
{
	return counting_inner(file)->pMethods->xLock(counting_inner(file), level);
}

static inline int
counting_unlock(sqlite3_file *file, int level)
{
	return counting_inner(file)->pMethods->xUnlock(counting_inner(file), level);
}

static inline int
counting_check(sqlite3_file *file, int *reserved)
{
	return counting_inner(file)->pMethods->xCheckReservedLock(
	    counting_inner(file), reserved);
}

static inline int
counting_control(sqlite3_file *file, int operation, void *arg)
{
	return counting_inner(file)->pMethods->xFileControl(
	    counting_inner(file), operation, arg);
}

static inline int
counting_sector(sqlite3_file *file)
{
	return counting_inner(file)->pMethods->xSectorSize(counting_inner(file));
}

static inline int
counting_characteristics(sqlite3_file *file)
{
	return counting_inner(file)->pMethods->xDeviceCharacteristics(
	    counting_inner(file));
}

static inline int
counting_shm_map(
    sqlite3_file *file, int page, int size, int extend, void volatile **map)
{
	return counting_inner(file)->pMethods->xShmMap(
	    counting_inner(file), page, size, extend, map);
}

static inline int
counting_shm_lock(sqlite3_file *file, int offset, int count, int flags)
{
	return counting_inner(file)->pMethods->xShmLock(
	    counting_inner(file), offset, count, flags);
}

static inline void
counting_shm_barrier(sqlite3_file *file)
{
	counting_inner(file)->pMethods->xShmBarrier(counting_inner(file));
}

static inline int
counting_shm_unmap(sqlite3_file *file, int delete)
{
	return counting_inner(file)->pMethods->xShmUnmap(counting_inner(file), delete);
}

static inline int
counting_open(
    sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out)
{
	static const sqlite3_io_methods methods = {
	    .iVersion = 2, /* without memory-mapped pages: all writes are seen */
	    .xClose = counting_close,
	    .xRead = counting_read,
	    .xWrite = counting_write,
	    .xTruncate = counting_truncate,
	    .xSync = counting_sync,
	    .xFileSize = counting_size,
	    .xLock = counting_lock,
	    .xUnlock = counting_unlock,
	    .xCheckReservedLock = counting_check,
	    .xFileControl = counting_control,
	    .xSectorSize = counting_sector,
	    .xDeviceCharacteristics = counting_characteristics,
	    .xShmMap = counting_shm_map,
	    .xShmLock = counting_shm_lock,
	    .xShmBarrier = counting_shm_barrier,
	    .xShmUnmap = counting_shm_unmap,
	};
	struct counting_file *ours = (struct counting_file *)file;
	sqlite3_vfs *real = vfs->pAppData;

	memset(ours, 0, sizeof *ours);
	int code = real->xOpen(real, name, counting_inner(file), flags, out);
	if (code == SQLITE_OK)
		ours->base.pMethods = &methods;
	ours->is_wal = (flags & SQLITE_OPEN_WAL) != 0;
	return code;
}

/* Once a process. */
static inline int
counting_vfs_register(void)
{
	static sqlite3_vfs vfs;
	sqlite3_vfs *real = sqlite3_vfs_find(NULL);

	if (real == NULL || vfs.zName != NULL)
		return real == NULL ? SQLITE_ERROR : SQLITE_OK;
	vfs = *real; /* everything but opening is the system's */
	vfs.zName = "counting";
	vfs.pAppData = real;
	vfs.pNext = NULL;
	vfs.szOsFile = (int)sizeof(struct counting_file) + real->szOsFile;
	vfs.xOpen = counting_open;
	return sqlite3_vfs_register(&vfs, 1);
}

#endif
