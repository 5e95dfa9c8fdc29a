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

#endif
