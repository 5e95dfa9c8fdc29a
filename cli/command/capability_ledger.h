/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `evensoak capability --characteristic NAME`: the study of a feature in the ledger. */
#ifndef CLI_COMMAND_CAPABILITY_LEDGER_H
#define CLI_COMMAND_CAPABILITY_LEDGER_H

#include "cli/command/command.h"
#include "cli/command/span.h"

/* Those that a ledger alone understands. */
#define CAPABILITY_LEDGER_OPTIONS                                      \
	(OPTION_BIT(OPTION_CHARACTERISTIC) | OPTION_BIT(OPTION_LINE) | \
	    OPTION_BIT(OPTION_RECIPE) | OPTION_BIT(OPTION_TOOL) |      \
	    OPTION_BIT(OPTION_LOT) | SPAN_OPTIONS)

enum command_exit capability_ledger_run(const struct call *call);

#endif
