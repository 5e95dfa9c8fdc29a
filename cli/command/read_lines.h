/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which lines a command reads: the one that --line names, or all: those of the set-up, and
 * behind them those that only a store knows, by name.
 */
#ifndef CLI_COMMAND_READ_LINES_H
#define CLI_COMMAND_READ_LINES_H

#include "cli/command/session.h"
#include "daemon/ledger/ledger_read.h"

#include <stddef.h>

struct read_lines {
	char (*names)[LEDGER_NAME];
	size_t count;
	const char *one; /* the name when --line says it; NULL: all */
};

/* COMMAND_USAGE or COMMAND_CANNOT after telling; release in either case. */
enum command_exit read_lines_find(
    struct read_lines *lines, const struct session *session, const struct call *call);
void read_lines_release(struct read_lines *lines);

#endif
