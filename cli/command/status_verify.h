/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * `status --verify`: the stores read back and held against the ledger, for a server that
 * says that it took what it has lost.
 */
#ifndef CLI_COMMAND_STATUS_VERIFY_H
#define CLI_COMMAND_STATUS_VERIFY_H

#include "cli/command/command.h"
#include "cli/command/span.h"

/* What it takes beside --verify. */
#define STATUS_VERIFY_OPTIONS \
	(SPAN_OPTIONS | OPTION_BIT(OPTION_STORE) | OPTION_BIT(OPTION_LINE))

/* COMMAND_NO when something is missing. */
enum command_exit status_verify(const struct call *call);

#endif
