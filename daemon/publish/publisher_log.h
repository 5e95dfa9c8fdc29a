/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the delivery to one store says in the log: a state when it changes, each trouble once
 * until all is well again, and no more than so many lines a day.
 *
 * One object belongs to the thread that delivers.
 */
#ifndef DAEMON_PUBLISH_PUBLISHER_LOG_H
#define DAEMON_PUBLISH_PUBLISHER_LOG_H

#include "daemon/base/allowance.h"
#include "daemon/publish/delivery.h"

struct error;

struct publisher_log {
	const char *name;           /* of the store; lent */
	enum delivery_state logged; /* DELIVERY_MOVING while all is well */
	unsigned troubles_logged;   /* a bit each, since then */
	struct mono failing_since;
	int64_t batches_seen, refused_seen, missed_seen;
	bool unasked;  /* the store cannot be asked what it has */
	bool refusing; /* lines of the last batch were set aside */
	bool untold;   /* the store has refused the devices' counts last */
	struct allowance day;
};
void publisher_log_init(struct publisher_log *log, const char *name);

/* After each step: how it ended, what is counted, and `error` where it did not go on. */
void publisher_log_step(struct publisher_log *log, enum delivery_state state,
    const struct delivery_counts *counts, const struct error *error);

/* After telling_post: what it returned. */
void publisher_log_telling(
    struct publisher_log *log, int code, const struct error *error);

#endif
