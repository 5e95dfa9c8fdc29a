/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Reference runs that the ledger holds, looked for by name or by what they are of.
 */
#ifndef CLI_COMMAND_REFERENCE_KNOWN_H
#define CLI_COMMAND_REFERENCE_KNOWN_H

#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>

struct call;
struct error;

/* Shots that may be held against each other. */
struct kind {
	char line[LEDGER_NAME], side[LEDGER_NAME], recipe[LEDGER_NAME],
	    tool[LEDGER_NAME];
};

struct reference_known {
	int64_t id; /* 0: there is none */
	struct kind kind;
	char name[LEDGER_NAME], note[256];
	struct wall from, to, frozen;
	struct wall withdrawn; /* ns 0: it holds */
	int64_t shots, setup;
};

struct kind kind_of(const struct ledger_shot *shot);
bool kind_same(const struct kind *a, const struct kind *b);

/* By --recipe, --tool and --side. */
bool kind_is_chosen(const struct call *call, const struct kind *kind);

/* "recipe 12, tool T-117, side A"; the side only where there is one. */
enum { KIND_TEXT = 4 * LEDGER_NAME };
void kind_words(const struct kind *kind, char words[static KIND_TEXT]);

/* The one of that name, withdrawn or not; the newest of that kind that holds.  id 0 when
 * there is none. */
int reference_named(struct reference_known *known, struct ledger_read *ledger,
    const char *name, struct error *error);
int reference_newest(struct reference_known *known, struct ledger_read *ledger,
    const struct kind *kind, struct error *error);

#endif
