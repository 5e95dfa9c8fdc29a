/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The stores as the daemon delivers to them, for `status`: how each stands, what it lacks,
 * what to do.  One thread.
 */
#ifndef CLI_COMMAND_STATUS_STORES_H
#define CLI_COMMAND_STATUS_STORES_H

#include "cli/command/session.h"
#include "cli/command/status_refused.h"
#include "daemon/ledger/ledger_read_delivery.h"
#include "daemon/publish/trouble.h"

#include <stdbool.h>
#include <stddef.h>

struct error;
struct page;

struct status_store {
	char name[LEDGER_NAME];
	const struct store_settings *settings; /* NULL: the ledger alone knows it */
	struct ledger_lack lack;
	struct status_refused refused;
	/* Of its row of health. */
	char state[LEDGER_NAME]; /* "": there is none */
	char text[512];
	struct wall since;
	int64_t batches, failures;
};

struct status_stores {
	size_t count;
	struct status_store *list;
};

/* Those of the set-up, in its order, and the others on file.  Release in either case. */
int status_stores_read(
    struct status_stores *stores, const struct session *session, struct error *error);
void status_stores_release(struct status_stores *stores);

/* Whether a row of health is of a store: told here then. */
bool status_stores_is_subject(const char *subject);

/* Whether it does not get what it lacks, by its row of health. */
bool status_stores_is_failing(const struct status_store *store);

/* The one whose row of health has this subject; NULL: none. */
const struct status_store *status_stores_find(
    const struct status_stores *stores, const char *subject);

/* Its state for people. */
const char *status_stores_words(const struct status_store *store);

/* The table of them.  `current`: what the daemon that runs tells. */
void status_stores_put(
    struct page *page, const struct status_stores *stores, bool current);

enum { STATUS_STORES_ADVICE = SETTINGS_PATH + 512 };

/* What to do about a trouble of the store, told in these words; "": they say that. */
void status_stores_advise(const struct store_settings *settings, enum trouble trouble,
    const char *words, char advice[static STATUS_STORES_ADVICE]);

/* Names those that fail, with what to do, and returns how many. */
int status_stores_wrong(struct page *page, const struct status_stores *stores);

/* Lines that were refused, which are wrong if that was lately: how many stores; readings
 * that were dropped, which is told only. */
int status_stores_remark(struct page *page, const struct status_stores *stores);

#endif
