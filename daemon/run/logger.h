/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How the logger itself is, in numbers: counted from its start on, also over a reload
 * that starts buses and recorder anew.  One object belongs to one thread.
 */
#ifndef DAEMON_RUN_LOGGER_H
#define DAEMON_RUN_LOGGER_H

#include "daemon/ledger/ledger.h"

struct device_status;
struct recorder_status;

struct logger {
	struct ledger_logger row;    /* as it is now */
	struct ledger_logger before; /* what is over, of those counts */
	int64_t disk_bytes;          /* the whole disk of the ledger */
	const char *ledger;          /* its path */
};

/* It starts now.  `ledger` must outlive it. */
void logger_init(struct logger *logger, const char *ledger);

/* A round: first this, then each device, the recorder, and when a row is wanted the rest:
 * memory, ledger and disk. */
void logger_begin(struct logger *logger);
void logger_add_device(struct logger *logger, const struct device_status *device);
void logger_put_recorder(struct logger *logger, const struct recorder_status *status);
void logger_look(struct logger *logger);

/* Buses and recorder have ended; `last` is how the recorder was.  Others begin at 0. */
void logger_carry(struct logger *logger, const struct recorder_status *last);

#endif
