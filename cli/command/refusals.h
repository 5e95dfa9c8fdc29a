/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The lines that a store refused, put together by its words: thousands of lines are refused
 * for one or two reasons.  One thread.
 */
#ifndef CLI_COMMAND_REFUSALS_H
#define CLI_COMMAND_REFUSALS_H

#include "daemon/ledger/ledger_read_delivery.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* More wordings than this are one, of the words "other words". */
enum { REFUSALS_MOST = 40, REFUSALS_WORDS = 512, REFUSALS_NAMES = 96 };

struct refusals_kind {
	char words[REFUSALS_WORDS]; /* of the first; lines that it quotes left out */
	char key[REFUSALS_WORDS]; /* the same without what differs from line to line */
	int64_t lines, lately;    /* all; refused at `since` or later */
	char measurements[REFUSALS_NAMES],
	    of[REFUSALS_NAMES]; /* "shot, event"; lines */
	struct wall from, to; /* of their points, to the second; ns 0: they have none */
	struct wall first, last; /* when they were refused */
};

struct refusals {
	struct wall since; /* set before the first is added */
	size_t count;
	struct refusals_kind list[REFUSALS_MOST];
};

void refusals_add(struct refusals *refusals, const struct ledger_refused *refused);

/* The one with most lines lately; NULL: there is none. */
const struct refusals_kind *refusals_most_lately(const struct refusals *refusals);

/* What to do about lines refused with these words, a clause; NULL: what they say. */
const char *refusals_advice(const char *words);

/* The words without the lines that they quote; and, if `plain`, without numbers. */
void refusals_wording(const char *answer, bool plain, char to[static REFUSALS_WORDS]);

#endif
