/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether a file that is to be read is the ledger.  A process that opens and closes it,
 * or what SQLite keeps beside it, takes away the locks that it has on it: POSIX knows no
 * owner of a lock but the process.  So it is never opened here either.
 * For one thread; only within conf/.
 */
#ifndef CONF_LEDGER_FILE_H
#define CONF_LEDGER_FILE_H

#include <stdbool.h>

struct draft;
struct part;

/* Puts the folder before the ledger's path: first of all. */
void ledger_file_complete(struct draft *draft);

/* Refuses `path`, complete, of that setting where it leads to the ledger: by its name,
 * and, of a draft from a file, by what is on the disk.  False then. */
bool ledger_file_refuse(
    struct draft *draft, struct part *part, const char *setting, const char *path);

#endif
