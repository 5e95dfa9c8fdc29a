/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/opening.h"

#include <errno.h>
#include <fcntl.h>
#include <pwd.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger.h"

static int
last_shots(struct ledger *ledger, const struct settings *settings, int64_t *last,
    struct error *error)
{
	struct wall closed_at;
	int code = 0;

	for (size_t i = 0; i < settings->line_count && code == 0; i++)
		code = ledger_last_shot(
		    ledger, settings->lines[i].name, &last[i], &closed_at, error);
	return code;
}

/* Nothing is kept of it: a page of either may be damaged. */
static int
try_reading(struct ledger *ledger, const struct settings *settings, struct error *error)
{
	int64_t last[SETTINGS_LINES];
	int code = last_shots(ledger, settings, last, error);

	for (size_t i = 0; i < settings->line_count && code == 0; i++) {
		void *bytes = NULL;
		size_t count;
		code = ledger_in_flight(
		    ledger, settings->lines[i].name, &bytes, &count, error);
		free(bytes);
	}
	return code;
}

/* --- whose files ------------------------------------------------------------------- */

enum { USER = 64, FILE_PATH = SETTINGS_PATH + 8 };

static void
name_user(uid_t id, char name[static USER])
{
	char room[4096];
	struct passwd entry, *user = NULL;

	if (getpwuid_r(id, &entry, room, sizeof(room), &user) == 0 && user != NULL)
		text_copy(name, USER, user->pw_name);
	else
		snprintf(name, USER, "%u", (unsigned)id);
}

static int
refuse(const char *path, const struct stat *refused, const char *files,
    struct error *error)
{
	char owner[USER], own[USER];

	name_user(refused->st_uid, owner);
	name_user(geteuid(), own);
	if (refused->st_uid == geteuid())
		return error_set(error, ERROR_IO,
		    "ledger '%s' cannot be written: a file of it is only to be read: "
		    "sudo chmod u+w%s",
		    path, files);
	return error_set(error, ERROR_IO,
	    "ledger '%s' cannot be written: a file of it belongs to user %s, and "
	    "evensoakd runs as %s: sudo chown %s:%s",
	    path, owner, own, own, files);
}

/* SQLite would open what it may not write, and then keep to reading for ever. */
static int
check_owner(const char *path, struct error *error)
{
	static const char *const suffixes[] = {"", "-wal", "-shm"};
	char files[3 * (FILE_PATH + 1)] = "";
	struct stat status, refused;
	size_t length = 0;
	bool any = false;

	for (size_t i = 0; i < sizeof(suffixes) / sizeof(suffixes[0]); i++) {
		char file[FILE_PATH];

		snprintf(file, sizeof(file), "%s%s", path, suffixes[i]);
		if (stat(file, &status) != 0)
			continue;
		length += (size_t)snprintf(
		    files + length, sizeof(files) - length, " %s", file);
		if (!any && faccessat(AT_FDCWD, file, R_OK | W_OK, AT_EACCESS) != 0 &&
		    errno == EACCES) {
			any = true;
			refused = status;
		}
	}
	return any ? refuse(path, &refused, files, error) : 0;
}

/* --- opening ------------------------------------------------------------------------ */

static int
open_and_read(
    struct ledger **ledger, const struct settings *settings, struct error *error)
{
	int code = 0;

	*ledger = ledger_open(settings->ledger, &code, error);
	if (*ledger == NULL)
		return code;
	code = try_reading(*ledger, settings, error);
	if (code != 0) {
		ledger_close(*ledger);
		*ledger = NULL;
	}
	return code;
}

struct ledger *
opening_first(
    struct opening *opening, const struct settings *settings, struct error *error)
{
	struct ledger *ledger = NULL;

	opening->was_there = access(settings->ledger, F_OK) == 0;
	opening->waits = check_owner(settings->ledger, error) != 0;
	if (opening->waits)
		return NULL;
	int code = open_and_read(&ledger, settings, error);
	opening->waits = code == ERROR_FULL || code == ERROR_DAMAGED;
	return ledger;
}

struct ledger *
opening_again(const struct opening *opening, const struct settings *settings,
    int64_t *last, struct error *error)
{
	if (opening->was_there && access(settings->ledger, F_OK) != 0) {
		error_set(error, ERROR_NOT_FOUND,
		    "ledger '%s' is gone; it is waited for until one is put there",
		    settings->ledger);
		return NULL;
	}
	if (check_owner(settings->ledger, error) != 0)
		return NULL;
	struct ledger *ledger = ledger_open(settings->ledger, NULL, error);
	if (ledger == NULL || last_shots(ledger, settings, last, error) == 0)
		return ledger;
	ledger_close(ledger);
	return NULL;
}
