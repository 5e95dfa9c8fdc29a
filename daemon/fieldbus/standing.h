/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How a device has answered lately, for the log: a line when that changes, with the
 * count of what lies between, and none while it stays.  One that comes and goes is told
 * of STANDING_CHANGES times in ten minutes, then only when it has stayed as it is for
 * ten; after STANDING_DAY times in a day only when it has for six hours.  While it goes on
 * so there is a line a day.  One object belongs to one thread.
 */
#ifndef DAEMON_FIELDBUS_STANDING_H
#define DAEMON_FIELDBUS_STANDING_H

#include "daemon/base/allowance.h"
#include "daemon/base/clock.h"
#include "daemon/fieldbus/scanner.h"

enum { STANDING_CHANGES = 6, STANDING_DAY = 48 };

struct standing {
	const char *device;
	bool known; /* there was a scan */
	enum scan_outcome outcome;
	struct mono failing_since;
	int64_t failures;       /* in a row: scans that were not answered in full */
	struct mono told_since; /* `told` changes were told since */
	int told;
	int64_t untold; /* changes since it was said to come and go; 0: it does not */
	struct mono changed_at;
	struct allowance day;
	bool for_hours;      /* it has to stay as it is, not for minutes */
	struct mono said_at; /* that it comes and goes */
};

void standing_init(struct standing *standing, const char *device);

/* Takes the outcome of a scan at `at` in; `why` unless it is full. */
void standing_note(struct standing *standing, enum scan_outcome outcome, struct mono at,
    const char *why);

#endif
