/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The lock that makes a process the one daemon of a ledger, seen by a reader.
 * Taking it is ledger_lock in ledger.h.  Any thread; nothing blocks.
 */
#ifndef DAEMON_LEDGER_LEDGER_LOCK_H
#define DAEMON_LEDGER_LEDGER_LOCK_H

#include <stdbool.h>

/* Whether a process has the lock now; asking never gets in the way of taking it. */
bool ledger_lock_held(const char *path);

#endif
