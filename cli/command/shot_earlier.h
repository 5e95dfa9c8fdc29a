/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a shot had before it was made again, beside what it has now. */
#ifndef CLI_COMMAND_SHOT_EARLIER_H
#define CLI_COMMAND_SHOT_EARLIER_H

#include "cli/command/session.h"
#include "daemon/ledger/ledger_read.h"

struct error;

/* 0, or the ledger's error. */
int shot_earlier_put(struct page *page, const struct session *session,
    const struct ledger_shot *shot, bool set_ups, struct error *error);

#endif
