/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/check_next.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/command/session.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger_lock.h"
#include "daemon/ledger/ledger_read.h"

void
check_next_tell_missing(const struct call *call, const char *path)
{
	const char *slash = strrchr(path, '/');
	int folder = slash ? (int)(slash - path) + 1 : 1; /* that it is to stand in */

	if (euidaccess(path, R_OK) == 0)
		return;
	if (errno == EACCES)
		fprintf(call->err, "next: " SESSION_JOIN "\n");
	if (errno != ENOENT)
		return;
	fprintf(call->err, /* arguments steer no terminal */
	    "next: copy the example of your kind of machine there, and put in its "
	    "devices\n"
	    "  ls " EVENSOAK_EXAMPLES "\n"
	    "  sudo cp -n " EVENSOAK_EXAMPLES "/materials.ini %.*s\n"
	    "  sudo cp -n " EVENSOAK_EXAMPLES "/demo.ini %s\n",
	    folder, slash ? path : ".", path);
}

/* Whether the newest configuration in force is this one; false also where it cannot be
 * told. */
static bool
is_in_force(const struct settings *settings)
{
	struct error error;
	struct ledger_read *ledger = ledger_read_open(settings->ledger, &error);

	if (!ledger)
		return false;
	char *newest = ledger_read_setup(ledger, 0, &error);
	bool same = newest && strcmp(newest, settings->text) == 0;
	free(newest);
	ledger_read_close(ledger);
	return same;
}

/* The unit runs the one set-up; any other is started by hand. */
static bool
is_the_units(const struct settings *settings)
{
	return strcmp(settings->path, SESSION_CONFIG) == 0;
}

static void
put_start(struct page *page, const struct settings *settings, bool live)
{
	bool units = is_the_units(settings);
	const char *option = units ? "" : " --config ";
	const char *path = units ? "" : settings->path;
	char first[SETTINGS_PATH + 100] = "";

	if (!live)
		snprintf(first, sizeof first,
		    "'evensoak check --live%s%s' reads every channel once; then ",
		    option, path);
	page_note(page, "next", TONE_PLAIN, "next: %sstart the logger: %s%s%s", first,
	    units ? "sudo systemctl start evensoakd" : "evensoakd", option, path);
}

void
check_next_put(struct page *page, const struct settings *settings, bool live)
{
	if (!ledger_lock_held(settings->ledger))
		put_start(page, settings, live);
	else if (is_in_force(settings))
		page_note(page, "next", TONE_PLAIN,
		    "the logger runs with this set-up: 'evensoak status' tells which "
		    "device answers");
	else
		page_note(page, "next", TONE_PLAIN,
		    "next: the logger still runs with an earlier set-up: %s",
		    is_the_units(settings) ? "sudo systemctl reload evensoakd"
					   : "send it SIGHUP");
}
