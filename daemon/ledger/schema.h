/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The tables of the ledger, and how an older file becomes a newer one.
 *
 * A file's version is its PRAGMA user_version.  A step, once released, is never
 * edited: a change of the tables is one more step, of the next version, at the end.
 * Only for the files in this folder, and for contrib/man, which lists the tables.
 */
#ifndef DAEMON_LEDGER_SCHEMA_H
#define DAEMON_LEDGER_SCHEMA_H

#include <sqlite3.h>
#include <stdint.h>

struct error;

enum {
	SCHEMA_VERSION = 6,              /* that of the last step */
	SCHEMA_APPLICATION = 0x6576736b, /* PRAGMA application_id: "evsk" */
};

/* The key of shot_channel.  Rows so keyed go in at the end of the table, which halves
 * the WAL that they cost; `channel` counts the channels ever configured. */
#define SCHEMA_SHOT_CHANNEL(shot, channel) ((shot)*INT64_C(1048576) + (channel))

/* The key of reading: a ring's stand together, in the order of their numbers. */
#define SCHEMA_READING(ring, number) ((ring)*INT64_C(1099511627776) + (number))

/* SQL on the way from the version before to `version`; several may share one. */
struct schema_step {
	int version;
	const char *sql;
};
struct schema_steps {
	const struct schema_step *list; /* versions never go down */
	int count;
};
extern const struct schema_steps schema_steps;

/*
 * Looks, and changes nothing.  `*version`: 0 for an empty file.  ERROR_TOO_NEW for
 * more than `newest`; ERROR_INVALID for a database that is something else.
 */
int schema_look(
    sqlite3 *db, const char *path, int newest, int *version, struct error *error);

/* Takes the steps that are missing, all of them or none.  Errors as schema_look. */
int schema_upgrade(sqlite3 *db, const char *path, const struct schema_steps *steps,
    struct error *error);

#endif
