/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Asks a store and reads its answer as it comes.  Blocks; one thread.
 */
#ifndef CLI_SOURCE_STORE_ASK_H
#define CLI_SOURCE_STORE_ASK_H

#include "cli/source/store_dialect.h"

struct settings;
struct store_settings;

/* A store that can be asked. */
struct store_asked {
	const struct store_settings *store; /* lent */
	const struct store_dialect *dialect;
	struct http *http; /* owned */
	int status;        /* of the last answer; 0: there was none */
};

/* Connects to nothing yet.  ERROR_INVALID: the URL cannot be meant; ERROR_MEMORY. */
int store_ask_open(
    struct store_asked *asked, const struct store_settings *store, struct error *error);
void store_ask_close(struct store_asked *asked);

/*
 * One question, its answer into `answered`.  0 also when the store is not asked that.
 * ERROR_FULL: it is more than can be held, a shorter span may not be; otherwise the
 * sentence names the store: ERROR_TIMEOUT, ERROR_IO: it does not answer, or not to the end;
 * ERROR_NOT_FOUND: it has no such data base; ERROR_REFUSED: it answers something else.
 */
int store_ask(struct store_asked *asked, enum store_subject subject,
    const struct store_question *question, struct answered *answered,
    struct error *error);

#endif
