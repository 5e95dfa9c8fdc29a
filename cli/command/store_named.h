/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A store by its name: one of the set-up, or one that the ledger still knows.
 */
#ifndef CLI_COMMAND_STORE_NAMED_H
#define CLI_COMMAND_STORE_NAMED_H

#include "cli/command/session.h"
#include "daemon/ledger/ledger_read.h"

#include <stddef.h>

/* The index of a store of the set-up; -1 when it has none of that name. */
int store_named_index(const struct settings *settings, const char *name);

/* COMMAND_USAGE after telling, with the nearest name, that the set-up has no such store. */
enum command_exit store_named_of_set_up(const struct call *call,
    const struct session *session, const char *name, size_t *store);

struct store_named {
	char name[LEDGER_NAME];
	const struct store_settings *settings; /* NULL: the ledger alone knows it */
};

/* The same, but one that only the ledger knows will do too.  Also COMMAND_CANNOT. */
enum command_exit store_named(struct store_named *store, const struct call *call,
    const struct session *session, const char *name);

#endif
