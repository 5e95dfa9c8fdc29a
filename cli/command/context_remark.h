/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a person who enters a recipe, a tool or a lot should know about it: notes on
 * standard error.  Trouble in finding out is not told: the entry stands.
 */
#ifndef CLI_COMMAND_CONTEXT_REMARK_H
#define CLI_COMMAND_CONTEXT_REMARK_H

#include "cli/command/session.h"
#include "daemon/ledger/ledger.h"

#include <stdint.h>

/* A value that the set-up does not know is taken, but told: it may be a slip. */
void context_remark_unknown(const struct call *call, const struct settings *settings,
    enum context_key key, const char *value);

/* After a recipe is filed: of shots that keep the one their machine told. */
void context_remark_rivals(const struct call *call, const struct session *session,
    const struct ledger_entry *entry);

/* What held before an entry, in its span. */
struct earlier_label {
	char value[256]; /* "": nothing, or unknown */
};

/* Before the entry is filed, with the time it holds from. */
void context_remark_earlier_label(const struct session *session,
    const struct ledger_entry *entry, struct earlier_label *earlier);

/* After it: where figures rest on the label, as it is or as it was, what makes them again. */
void context_remark_recompute(const struct call *call, const struct settings *settings,
    const struct ledger_entry *entry, const struct earlier_label *earlier,
    int64_t relabelled);

#endif
