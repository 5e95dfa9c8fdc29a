/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_lock.h"

#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
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
static _Atomic int own_fd = -1;

/* What lies in the lock's file. */
struct told_there {
	int64_t run;
	char text[LEDGER_LOCK_TOLD];
};

/* Into the lock's file: who reads the ledger knows then which rows are of this run.  When
 * it cannot be written there is no number, and no old one either.  With the room for what
 * is told later: the disk may be full then. */
static void
tell_run(int fd)
{
	struct told_there there = {0};
	struct timespec now;

	clock_gettime(CLOCK_REALTIME, &now);
	there.run = ((int64_t)now.tv_sec * 1000000000 + now.tv_nsec) ^ getpid();
	if (pwrite(fd, &there, sizeof there, 0) != sizeof there)
		there.run = ftruncate(fd, 0) == 0 ? 0 : -1;
	atomic_store(&own_run, there.run);
	atomic_store(&own_fd, fd);
}

int
ledger_lock(const char *path, struct error *error)
{
	char name[LOCK_PATH_ROOM];
	struct flock lock = whole_file();

	if (!lock_path(path, name))
		return error_set(
		    error, ERROR_INVALID, "lock '%s': the path is too long", path);
	/* The group's members write this folder: a link left there leads nobody elsewhere. */
	int fd = open(name, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0644);
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

/* Whether a process has it; if so what it told there too, as far as it did. */
static bool
look_at(const char *path, struct told_there *there)
{
	char name[LOCK_PATH_ROOM];
	struct flock lock = whole_file();

	*there = (struct told_there){0};
	if (!lock_path(path, name))
		return false;
	int fd = open(name, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
	if (fd < 0)
		return false;
	bool held = fcntl(fd, F_OFD_GETLK, &lock) == 0 && lock.l_type != F_UNLCK;
	if (held && pread(fd, there, sizeof *there, 0) < (ssize_t)sizeof there->run)
		*there = (struct told_there){0};
	there->text[sizeof there->text - 1] = '\0';
	close(fd);
	return held;
}

bool
ledger_lock_held(const char *path)
{
	struct told_there there;

	return look_at(path, &there);
}

int64_t
ledger_lock_run(const char *path)
{
	struct told_there there;

	look_at(path, &there);
	return there.run;
}

int64_t
ledger_lock_own_run(void)
{
	return atomic_load(&own_run);
}

void
ledger_lock_told(const char *path, char to[static LEDGER_LOCK_TOLD])
{
	struct told_there there;

	look_at(path, &there);
	text_copy(to, LEDGER_LOCK_TOLD, there.text);
}

void
ledger_lock_tell(const char *text)
{
	int fd = atomic_load(&own_fd);
	struct told_there there = {0};

	text_copy(there.text, sizeof there.text, text);
	if (fd >= 0) /* what cannot be told stands in the log */
		(void)!pwrite(fd, there.text, sizeof there.text,
		    offsetof(struct told_there, text));
}
