/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The logger itself, for `status`: its disk, what it lost, its clock.  One thread.
 */
#ifndef CLI_COMMAND_STATUS_LOGGER_H
#define CLI_COMMAND_STATUS_LOGGER_H

#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>

struct error;
struct page;

/* Less on the disk of the ledger is wrong, and is told: a day at the least for the largest
 * line, common practice, no source. */
#define STATUS_DISK_WRONG_BYTES INT64_C(200000000)
#define STATUS_DISK_LOW_BYTES INT64_C(1000000000)

/* What the daemon that runs tells of itself; `*known` is false when it has not yet. */
int status_logger_read(struct ledger_read *ledger, struct ledger_logger *logger,
    bool *known, struct error *error);

/* Its figures. */
void status_logger_put(struct page *page, const struct ledger_logger *logger);

/* Names what is wrong with it, and returns how much; tells what is only odd. */
int status_logger_wrong(struct page *page, const struct ledger_logger *logger);

#endif
