/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A layer under SQLite that changes nothing: what other layers are made from.  It becomes
 * the default, so the ledger opens through it.  One layer a test program.
 */
#ifndef TESTS_UNIT_DAEMON_LEDGER_LAYER_VFS_H
#define TESTS_UNIT_DAEMON_LEDGER_LAYER_VFS_H

#include <sqlite3.h>
#include <string.h>

/* SQLite's own file stands behind ours, in the same allocation. */
struct layer_file {
	sqlite3_file base;
	int flags; /* it was opened with */
	int slot;  /* of the layer's own */
};

static inline sqlite3_file *
layer_inner(sqlite3_file *file)
{
	return (sqlite3_file *)((struct layer_file *)file + 1);
}

static inline int
layer_close(sqlite3_file *file)
{
	return layer_inner(file)->pMethods->xClose(layer_inner(file));
}

static inline int
layer_read(sqlite3_file *file, void *to, int bytes, sqlite3_int64 at)
{
	return layer_inner(file)->pMethods->xRead(layer_inner(file), to, bytes, at);
}

static inline int
layer_write(sqlite3_file *file, const void *from, int bytes, sqlite3_int64 at)
{
	return layer_inner(file)->pMethods->xWrite(layer_inner(file), from, bytes, at);
}

static inline int
layer_truncate(sqlite3_file *file, sqlite3_int64 size)
{
	return layer_inner(file)->pMethods->xTruncate(layer_inner(file), size);
}

static inline int
layer_sync(sqlite3_file *file, int flags)
{
	return layer_inner(file)->pMethods->xSync(layer_inner(file), flags);
}

static inline int
layer_size(sqlite3_file *file, sqlite3_int64 *size)
{
	return layer_inner(file)->pMethods->xFileSize(layer_inner(file), size);
}

static inline int
layer_lock(sqlite3_file *file, int level)
{
	return layer_inner(file)->pMethods->xLock(layer_inner(file), level);
}

static inline int
layer_unlock(sqlite3_file *file, int level)
{
	return layer_inner(file)->pMethods->xUnlock(layer_inner(file), level);
}

static inline int
layer_check(sqlite3_file *file, int *reserved)
{
	return layer_inner(file)->pMethods->xCheckReservedLock(
	    layer_inner(file), reserved);
}

static inline int
layer_control(sqlite3_file *file, int operation, void *arg)
{
	return layer_inner(file)->pMethods->xFileControl(
	    layer_inner(file), operation, arg);
}

static inline int
layer_sector(sqlite3_file *file)
{
	return layer_inner(file)->pMethods->xSectorSize(layer_inner(file));
}

static inline int
layer_characteristics(sqlite3_file *file)
{
	return layer_inner(file)->pMethods->xDeviceCharacteristics(layer_inner(file));
}

static inline int
layer_shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **map)
{
	return layer_inner(file)->pMethods->xShmMap(
	    layer_inner(file), page, size, extend, map);
}

static inline int
layer_shm_lock(sqlite3_file *file, int offset, int count, int flags)
{
	return layer_inner(file)->pMethods->xShmLock(
	    layer_inner(file), offset, count, flags);
}

static inline void
layer_shm_barrier(sqlite3_file *file)
{
	layer_inner(file)->pMethods->xShmBarrier(layer_inner(file));
}

static inline int
layer_shm_unmap(sqlite3_file *file, int delete)
{
	return layer_inner(file)->pMethods->xShmUnmap(layer_inner(file), delete);
}

/* A layer changes those that are its own before it is registered. */
static sqlite3_io_methods layer_methods = {
    .iVersion = 2, /* without memory-mapped pages: all writes are seen */
    .xClose = layer_close,
    .xRead = layer_read,
    .xWrite = layer_write,
    .xTruncate = layer_truncate,
    .xSync = layer_sync,
    .xFileSize = layer_size,
    .xLock = layer_lock,
    .xUnlock = layer_unlock,
    .xCheckReservedLock = layer_check,
    .xFileControl = layer_control,
    .xSectorSize = layer_sector,
    .xDeviceCharacteristics = layer_characteristics,
    .xShmMap = layer_shm_map,
    .xShmLock = layer_shm_lock,
    .xShmBarrier = layer_shm_barrier,
    .xShmUnmap = layer_shm_unmap,
};

static inline int
layer_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out)
{
	struct layer_file *ours = (struct layer_file *)file;
	sqlite3_vfs *real = vfs->pAppData;

	memset(ours, 0, sizeof *ours);
	int code = real->xOpen(real, name, layer_inner(file), flags, out);
	if (code == SQLITE_OK)
		ours->base.pMethods = &layer_methods;
	ours->flags = flags;
	return code;
}

/* Once a process.  Everything but files is the system's; `change` may give the layer
 * calls of its own. */
static inline int
layer_register(const char *name, void (*change)(sqlite3_vfs *vfs))
{
	static sqlite3_vfs vfs;
	sqlite3_vfs *real = sqlite3_vfs_find(NULL);

	if (real == NULL || vfs.zName != NULL)
		return real == NULL ? SQLITE_ERROR : SQLITE_OK;
	vfs = *real;
	vfs.zName = name;
	vfs.pAppData = real;
	vfs.pNext = NULL;
	vfs.szOsFile = (int)sizeof(struct layer_file) + real->szOsFile;
	vfs.xOpen = layer_open;
	change(&vfs);
	return sqlite3_vfs_register(&vfs, 1);
}

#endif
