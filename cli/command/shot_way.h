/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot's way on a page: its steps, its course in some 20 rows, every reading kept. */
#ifndef CLI_COMMAND_SHOT_WAY_H
#define CLI_COMMAND_SHOT_WAY_H

#include "cli/command/kept.h"
#include "cli/command/session.h"

struct error;

struct shot_way {
	const struct session *session;
	const struct ledger_shot *shot;
	bool readings; /* every one of them, too */
};

/* Trouble with the trace alone is told on the page.  0, or the ledger's error. */
int shot_way_put(struct page *page, const struct shot_way *way, struct error *error);

#endif
