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
#include <stddef.h>

struct device_status;
struct error;
struct health;
struct inspection_status;
struct ledger_logger;
struct notifier_status;
struct publisher_status;
struct recorder_status;
struct settings;

enum { HEALTH_TICKS = 15 };

/* Opens the ledger once more, for this thread.  NULL with the sentence in `error`. */
struct health *health_open(const char *ledger, struct error *error);
void health_close(struct health *health); /* says that the daemon has stopped */

void health_begin(struct health *health);
void health_recorder(struct health *health, const struct recorder_status *status);
void health_refusal(struct health *health, const char *why, struct wall since);
void health_inspection(struct health *health, const struct inspection_status *status);
/* Devices of a bus, polled since `since`; `settings`, theirs, is lent until health_end. */
void health_devices(struct health *health, const struct settings *settings,
    const struct device_status *devices, size_t count, struct wall since);
void health_publisher(
    struct health *health, const char *store, const struct publisher_status *status);

void health_notifier(struct health *health, const struct notifier_status *status);

/* Writes what was collected, if need be: true when it did. */
bool health_end(struct health *health);

/* The logger's own row. */
void health_logger(struct health *health, const struct ledger_logger *logger);

/* Cuts the WAL. */
void health_checkpoint(struct health *health);

#endif
