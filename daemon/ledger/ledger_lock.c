/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_lock.h"

#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/ledger/access.h"
#include "daemon/ledger/ledger.h"

enum { LOCK_PATH_ROOM = 4096 };

static bool
lock_path(const char *path, char to[static LOCK_PATH_ROOM])
{
	int length = snprintf(to, LOCK_PATH_ROOM, "%s.lock", path);
	return length > 0 && length < LOCK_PATH_ROOM;
}

/*
 * An open-file-description lock rather than flock: a reader can ask about it
 * (F_OFD_GETLK) without taking it for an instant, which a daemon that starts at that
 * instant would see as another daemon.
 */
static struct flock
whole_file(void)
{
	return (struct flock){.l_type = F_WRLCK, .l_whence = SEEK_SET};
}

static _Atomic int64_t own_run;

/* Into the lock's file: who reads the ledger knows then which rows are of this run.  When
 * it cannot be written there is no number, and no old one either. */
static void
tell_run(int fd)
{
	struct timespec now;
	int64_t run;

	clock_gettime(CLOCK_REALTIME, &now);
	run = ((int64_t)now.tv_sec * 1000000000 + now.tv_nsec) ^ getpid();
	if (pwrite(fd, &run, sizeof run, 0) != sizeof run)
		run = ftruncate(fd, 0) == 0 ? 0 : -1;
	atomic_store(&own_run, run);
}

int
ledger_lock(const char *path, struct error *error)
{
	char name[LOCK_PATH_ROOM];
	struct flock lock = whole_file();

	if (!lock_path(path, name))
		return error_set(
		    error, ERROR_INVALID, "lock '%s': the path is too long", path);
	int fd = open(name, O_RDWR | O_CREAT | O_CLOEXEC, 0644);
	if (fd < 0) {
		error_set(
		    error, ERROR_IO, "lock '%s': %s", name, strerrordesc_np(errno));
		access_check(path, error); /* tells more when that is why */
		return ERROR_IO;
	}
	if (fcntl(fd, F_OFD_SETLK, &lock) == 0) {
		tell_run(fd);
		return 0; /* the descriptor, and the lock, last as long as the process */
	}
	int reason = errno;
	close(fd);
	if (reason == EAGAIN || reason == EACCES)
		return error_set(error, ERROR_BUSY,
		    "ledger '%s' is in use: another evensoakd writes it", path);
	return error_set(
	    error, ERROR_IO, "lock '%s': %s", name, strerrordesc_np(reason));
}

/* Whether a process has it; if so its run too. */
static bool
look_at(const char *path, int64_t *run)
{
	char name[LOCK_PATH_ROOM];
	struct flock lock = whole_file();

	*run = 0;
	if (!lock_path(path, name))
		return false;
	int fd = open(name, O_RDONLY | O_CLOEXEC);
	if (fd < 0)
		return false;
	bool held = fcntl(fd, F_OFD_GETLK, &lock) == 0 && lock.l_type != F_UNLCK;
	if (!held || pread(fd, run, sizeof *run, 0) != sizeof *run)
		*run = 0;
	close(fd);
	return held;
}

bool
ledger_lock_held(const char *path)
{
	int64_t run;

	return look_at(path, &run);
}

int64_t
ledger_lock_run(const char *path)
{
	int64_t run;

	look_at(path, &run);
	return run;
}

int64_t
ledger_lock_own_run(void)
{
	return atomic_load(&own_run);
}
