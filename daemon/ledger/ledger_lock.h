/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The lock that makes a process the one daemon of a ledger, seen by a reader.
 * Taking it is ledger_lock in ledger.h.  Any thread; nothing blocks.
 */
#ifndef DAEMON_LEDGER_LEDGER_LOCK_H
#define DAEMON_LEDGER_LEDGER_LOCK_H

#include <stdbool.h>
#include <stdint.h>

/* Whether a process has the lock now; asking never gets in the way of taking it. */
bool ledger_lock_held(const char *path);

/* The run of the process that has the lock: a number of its own each time that it is
 * taken; 0: nobody has it, or it could not be told. */
int64_t ledger_lock_run(const char *path);

/* The run of this process; 0: it has no lock. */
int64_t ledger_lock_own_run(void);

/* What the daemon that has the lock cannot write into the ledger, since that is what is
 * wrong: a sentence; "": nothing, or nobody has it. */
enum { LEDGER_LOCK_TOLD = 400 };
void ledger_lock_told(const char *path, char to[static LEDGER_LOCK_TOLD]);

/* Tells that, of this process; nothing while it has no lock.  One thread. */
void ledger_lock_tell(const char *text);

#endif
