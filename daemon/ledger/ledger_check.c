/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_check.h"

#include <stdio.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read_inside.h"

enum { STEPS_A_PAUSE = 20000 }; /* of SQLite's machine: some milliseconds */

/* Each page is looked at once, so that few need be kept; the daemon's computer is small. */
static const char quick_memory[] = "PRAGMA cache_size = -256";

struct checking {
	const struct ledger_check *check;
	struct ledger_checked *checked;
	sqlite3 *db;
};

static void
found(struct checking *checking, const char *said)
{
	struct ledger_checked *checked = checking->checked;
	char sentence[256];

	database_plain(said, sentence, sizeof sentence);
	if (++checked->findings == 1)
		text_copy(checked->first, sizeof checked->first, sentence);
	if (checking->check->take != NULL && checked->findings <= LEDGER_CHECK_MOST)
		checking->check->take(checking->check->arg, sentence);
}

/* SQLite puts what it finds in several trees into one row, under a heading. */
static void
found_lines(struct checking *checking, const char *said)
{
	char line[256];

	while (*said != '\0') {
		size_t length = strcspn(said, "\n");
		snprintf(line, sizeof line, "%.*s", (int)length, said);
		if (length > 0 && strncmp(line, "*** in database ", 16) != 0)
			found(checking, line);
		said += length + (said[length] != '\0');
	}
}

/* Each row is a sentence, or several.  Errors of reading are findings too. */
static void
find_by(struct checking *checking, const char *sql)
{
	sqlite3_stmt *statement = NULL;
	char sentence[300];
	int step = SQLITE_ERROR;

	if (checking->checked->ended)
		return;
	if (sqlite3_prepare_v2(checking->db, sql, -1, &statement, NULL) == SQLITE_OK)
		while ((step = sqlite3_step(statement)) == SQLITE_ROW)
			if (strcmp(column_string(statement, 0), "ok") != 0)
				found_lines(checking, column_string(statement, 0));
	if (step == SQLITE_INTERRUPT) {
		checking->checked->ended = true;
	} else if (step != SQLITE_DONE) {
		snprintf(sentence, sizeof sentence, "cannot be read: %s",
		    sqlite3_errmsg(checking->db));
		found(checking, sentence);
	}
	sqlite3_finalize(statement);
}

static const char *const quick_sql[] = {
    "SELECT quick_check FROM pragma_quick_check(100)",
    "SELECT 'store ''' || destination || ''' is said to have changes up to ' || change "
    "||"
    " ', and the newest is ' || newest || ': what comes now would not go out' FROM"
    " delivery, (SELECT max(coalesce((SELECT max(change) FROM shot), 0),"
    " coalesce((SELECT max(change) FROM event), 0)) AS newest)"
    " WHERE stream IN ('shot', 'event') AND change > newest",
};
static const char *const full_sql[] = {
    "SELECT integrity_check FROM pragma_integrity_check(100)",
    "SELECT 'rows of ' || \"table\" || ' point to nothing in ' || parent || ': ' ||"
    " count(*) FROM pragma_foreign_key_check GROUP BY \"table\", parent",
    "SELECT 'number ' || shot_no || ' of line ' || line || ' is there ' || count(*) ||"
    " ' times' FROM shot NOT INDEXED GROUP BY line, shot_no HAVING count(*) > 1",
    "SELECT 'channels of a shot that is not there: ' || count(*) FROM shot_channel"
    " WHERE NOT EXISTS (SELECT 1 FROM shot WHERE shot.id = shot_channel.id / 1048576)"
    " HAVING count(*) > 0",
};

static void
run(struct checking *checking)
{
	const struct ledger_check *check = checking->check;

	if (!check->full)
		sqlite3_exec(checking->db, quick_memory, NULL, NULL, NULL);
	if (check->full) {
		for (size_t i = 0; i < sizeof full_sql / sizeof full_sql[0]; i++)
			find_by(checking, full_sql[i]);
		find_by(checking, quick_sql[1]);
		return;
	}
	for (size_t i = 0; i < sizeof quick_sql / sizeof quick_sql[0]; i++)
		find_by(checking, quick_sql[i]);
}

int
ledger_check(const char *path, const struct ledger_check *check,
    struct ledger_checked *checked, struct error *error)
{
	struct checking checking = {.check = check, .checked = checked};
	struct error why;

	*checked = (struct ledger_checked){0};
	int code = ledger_read_connect(path, &checking.db, &why);
	if (code == ERROR_DAMAGED) {
		found(&checking, why.text);
		code = 0;
	} else if (code != 0) {
		error_set(error, (enum error_code)code, "%s", why.text);
	} else {
		if (check->pause != NULL)
			sqlite3_progress_handler(
			    checking.db, STEPS_A_PAUSE, check->pause, check->arg);
		run(&checking);
	}
	sqlite3_close(checking.db);
	return code;
}
