/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/access.h"

#include <errno.h>
#include <fcntl.h>
#include <pwd.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { PATH_ROOM = 4096, USER_ROOM = 4096 };

/* Whom the system lets write: the effective user. */
static int
refusal_of(const char *path, int mode)
{
	return faccessat(AT_FDCWD, path, mode, AT_EACCESS) == 0 ? 0 : errno;
}

static int
refuse(const char *path, const char *what, int reason, struct error *error)
{
	char room[USER_ROOM], number[24];
	struct passwd entry, *user = NULL;

	snprintf(number, sizeof number, "%u", (unsigned)geteuid());
	if (getpwuid_r(geteuid(), &entry, room, sizeof room, &user) != 0)
		user = NULL;
	return error_set(error, ERROR_IO,
	    "ledger '%s': %s: the ledger's %s must be there and writable for user %s%s",
	    path, strerrordesc_np(reason), what, user ? user->pw_name : number,
	    reason == EACCES ? "; join the group of the folder" : "");
}

int
access_check(const char *path, struct error *error)
{
	char copy[PATH_ROOM];
	int reason = refusal_of(path, W_OK);

	if (reason == EACCES || reason == EROFS)
		return refuse(path, "file", reason, error);
	if (!text_copy(copy, sizeof copy, path))
		return 0; /* opening tells */
	char *slash = strrchr(copy, '/');
	if (slash)
		slash[slash == copy] = '\0';
	reason = refusal_of(slash ? copy : ".", W_OK | X_OK);
	return reason == 0 ? 0 : refuse(path, "folder", reason, error);
}
