/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/schema.h"

#include <stdint.h>
#include <stdio.h>

#include "daemon/base/error.h"
#include "daemon/ledger/database.h"

int
schema_look(
    sqlite3 *db, const char *path, int newest, int *version, struct error *error)
{
	int64_t application = 0, found = 0, tables = 0;
	int code = database_integer(db, "PRAGMA application_id", &application, error);

	if (code == 0)
		code = database_integer(db, "PRAGMA user_version", &found, error);
	if (code == 0)
		code = database_integer(
		    db, "SELECT count(*) FROM sqlite_schema", &tables, error);
	if (code != 0)
		return error_prefix(error, code, "'%s'", path);
	if (application != SCHEMA_APPLICATION && (application | found | tables) != 0)
		return error_set(error, ERROR_INVALID,
		    "'%s' is an SQLite database, but not a ledger of evensoak", path);
	if (found > newest)
		return error_set(error, ERROR_TOO_NEW,
		    "ledger '%s' is of version %lld, this program knows up to %d: "
		    "install the newer program",
		    path, (long long)found, newest);
	*version = (int)found;
	return 0;
}

static int
newest_of(const struct schema_steps *steps)
{
	return steps->list[steps->count - 1].version;
}

static int
take_steps(sqlite3 *db, const char *path, const struct schema_steps *steps,
    struct error *error)
{
	char pragma[96];
	int newest = newest_of(steps), version = 0;
	int code = schema_look(db, path, newest, &version, error);

	if (code != 0 || version == newest)
		return code;
	for (int i = 0; i < steps->count; i++) {
		const struct schema_step *step = &steps->list[i];
		if (step->version <= version)
			continue;
		code = database_run(db, step->sql, error);
		if (code != 0)
			return error_prefix(error, code, "bring '%s' to version %d",
			    path, step->version);
	}
	snprintf(pragma, sizeof pragma,
	    "PRAGMA application_id = %d; PRAGMA user_version = %d", SCHEMA_APPLICATION,
	    newest);
	return database_run(db, pragma, error);
}

int
schema_upgrade(sqlite3 *db, const char *path, const struct schema_steps *steps,
    struct error *error)
{
	int code = database_run(db, "BEGIN IMMEDIATE", error);

	if (code != 0)
		return code;
	code = take_steps(db, path, steps, error);
	if (code == 0)
		code = database_run(db, "COMMIT", error);
	if (code != 0 && sqlite3_get_autocommit(db) == 0)
		sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL);
	return code;
}
