/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How a device has answered lately, for the log: a line when that changes, with the
 * count of what lies between, and none while it stays.  One object belongs to one
 * thread.
 */
#ifndef DAEMON_FIELDBUS_STANDING_H
#define DAEMON_FIELDBUS_STANDING_H

#include "daemon/fieldbus/scanner.h"

struct standing {
	const char *device;
	bool known; /* there was a scan */
	enum scan_outcome outcome;
	struct mono failing_since;
	int64_t failures; /* in a row: scans that were not answered in full */
};

void standing_init(struct standing *standing, const char *device);

/* Takes the outcome of a scan at `at` in; `why` unless it is full. */
void standing_note(struct standing *standing, enum scan_outcome outcome, struct mono at,
    const char *why);

#endif
