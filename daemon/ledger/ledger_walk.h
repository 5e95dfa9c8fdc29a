/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The rows of one table of a damaged file into the same table of a whole one, around what
 * cannot be read.  Only for the files in this folder.
 */
#ifndef DAEMON_LEDGER_LEDGER_WALK_H
#define DAEMON_LEDGER_LEDGER_WALK_H

#include <sqlite3.h>
#include <stdint.h>

struct error;

struct ledger_walked {
	int64_t rows;   /* that the new table took */
	int64_t places; /* that could not be read, or rows that it did not take */
};

/* Columns that the new table has not are left out.  Where it has numbered rows, the new
 * file's table temp.hole (name, low, high) gets the numbers between which there may have
 * been rows that could not be read.  Errors of the new file only. */
int ledger_walk(sqlite3 *from, sqlite3 *to, const char *table,
    struct ledger_walked *walked, struct error *error);

#endif
