/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Asks the ledger what people told of a shot that is about to be recorded.  A ledger that
 * cannot answer fails no shot: it is then made as if nothing had been told, and that is
 * logged when it begins and when it ends.  One object belongs to one thread.
 */
#ifndef DAEMON_RUN_ASKING_H
#define DAEMON_RUN_ASKING_H

#include <stdbool.h>
#include <stddef.h>

struct circumstances;
struct ledger;
struct ledger_question;

/* Zeroed to begin with. */
struct asking {
	double *correction; /* of each channel; lent to the circumstances */
	size_t room;
	bool unanswered; /* the last question */
};

void asking_release(struct asking *asking);

/* As tracker_sink.circumstances; `ledger` NULL: it is not open yet, which somebody else
 * tells.  What is lent lasts until the next call. */
void asking_circumstances(struct asking *asking, struct ledger *ledger,
    const struct ledger_question *question, struct circumstances *circumstances);

#endif
