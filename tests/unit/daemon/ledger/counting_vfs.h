/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A layer under SQLite that counts what reaches the disk (fsyncs of every file, bytes
 * written to the WAL) and lets a write or an fsync fail.
 */
#ifndef TESTS_UNIT_DAEMON_LEDGER_COUNTING_VFS_H
#define TESTS_UNIT_DAEMON_LEDGER_COUNTING_VFS_H

#include <stdint.h>

#include "tests/unit/daemon/ledger/layer_vfs.h"

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

static inline int
counting_write(sqlite3_file *file, const void *from, int bytes, sqlite3_int64 at)
{
	int code = fault_now();

	if (code != SQLITE_OK)
		return code;
	if (((struct layer_file *)file)->flags & SQLITE_OPEN_WAL)
		counted.wal_bytes += bytes;
	return layer_write(file, from, bytes, at);
}

static inline int
counting_sync(sqlite3_file *file, int flags)
{
	int code = fault_now();

	if (code != SQLITE_OK)
		return code;
	counted.syncs++;
	return layer_sync(file, flags);
}

static inline void
counting_change(sqlite3_vfs *vfs)
{
	(void)vfs;
	layer_methods.xWrite = counting_write;
	layer_methods.xSync = counting_sync;
}

static inline int
counting_vfs_register(void)
{
	return layer_register("counting", counting_change);
}

#endif
