/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What was found of a store by reading it back, on a page.  One thread.
 */
#ifndef CLI_COMMAND_VERIFY_VIEW_H
#define CLI_COMMAND_VERIFY_VIEW_H

#include "cli/command/verify.h"
#include "conf/settings.h"

struct error;
struct page;

struct verified {
	const struct store_settings *store; /* lent */
	struct wall from, to;               /* that was looked at */
	struct ledger_lack lack;
	struct verify_terms terms;
	struct verify_day *days; /* each of its lines, then its events, its shifts */
	size_t count, room;
	size_t twice; /* points that it keeps more than once */
};

/* Takes the day over.  False when memory is short, and then not. */
bool verified_add(struct verified *verified, const struct verify_day *day);
void verified_release(struct verified *verified);

/* Puts it, and what to do.  Whether something is missing. */
bool verified_put(struct page *page, const struct verified *verified);

/* In its place, when it could not be read. */
void verified_put_failure(
    struct page *page, const struct verified *verified, const struct error *error);

#endif
