/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How the daemon's parts are, as rows in the ledger: collected once a tick, written when
 * a state changed or HEALTH_TICKS have passed.  One thread; a failure to write is left
 * to the recorder to report.
 */
#ifndef DAEMON_RUN_HEALTH_H
#define DAEMON_RUN_HEALTH_H

#include "daemon/base/clock.h"

#include <stdbool.h>

struct error;
struct health;
struct poller;
struct publisher;
struct recorder_status;
struct settings;

enum { HEALTH_TICKS = 15 };

/* Opens the ledger once more, for this thread.  NULL with the sentence in `error`. */
struct health *health_open(const char *ledger, struct error *error);
void health_close(struct health *health); /* says that the daemon has stopped */

void health_begin(struct health *health);
void health_recorder(struct health *health, const struct recorder_status *status);
void health_refusal(struct health *health, const char *why, struct wall since);
/* Of the devices of its bus; they are polled since `since`.  `settings`, the poller's, is
 * lent until health_end. */
void health_poller(struct health *health, const struct settings *settings,
    struct poller *poller, struct wall since);
void health_publisher(
    struct health *health, const char *store, struct publisher *publisher);

/* Writes what was collected, if need be; cuts the WAL when `checkpoint`. */
void health_end(struct health *health, bool checkpoint);

#endif
