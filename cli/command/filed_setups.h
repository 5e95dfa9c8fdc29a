/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The set-ups that a ledger has on file, read and parsed when they are asked for and kept
 * for the next shot made under them.  One thread.
 */
#ifndef CLI_COMMAND_FILED_SETUPS_H
#define CLI_COMMAND_FILED_SETUPS_H

#include "conf/settings.h"

struct error;
struct filed_setups;
struct ledger_read;

/* `ledger` must outlive it.  NULL when memory is short. */
struct filed_setups *filed_setups_new(struct ledger_read *ledger);
void filed_setups_free(struct filed_setups *setups);

/* Lent until filed_setups_free.  NULL with the sentence: not there, or what this version
 * of the program cannot read any more. */
const struct settings *filed_setups_get(
    struct filed_setups *setups, int64_t setup, struct error *error);

#endif
