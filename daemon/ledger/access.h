/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether this user may write a ledger, and what to do when not.  Any thread.
 */
#ifndef DAEMON_LEDGER_ACCESS_H
#define DAEMON_LEDGER_ACCESS_H

struct error;

/* 0, or ERROR_IO when the ledger's file is there and not writable for this user, or its
 * folder is not there or not writable: SQLite makes files of its own beside it. */
int access_check(const char *path, struct error *error);

#endif
