/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What people told of a shot, asked by whoever writes the ledger and by whoever reads it:
 * one wording for both.  Only for the files in this folder.
 */
#ifndef DAEMON_LEDGER_LEDGER_CIRCUMSTANCES_H
#define DAEMON_LEDGER_LEDGER_CIRCUMSTANCES_H

#include <sqlite3.h>

/* Its statements, prepared when they are first needed; zeroed: not yet. */
struct told {
	sqlite3_stmt *labels, *calibrations;
};

/* Before the connection is closed. */
void told_release(struct told *told);

#endif
