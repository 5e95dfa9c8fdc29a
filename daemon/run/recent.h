/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What was counted lately of something that is counted from a start on: the counts less
 * those of an hour or two ago.  Pure.  One object belongs to one thread.
 */
#ifndef DAEMON_RUN_RECENT_H
#define DAEMON_RUN_RECENT_H

#include "daemon/base/clock.h"
#include "daemon/ledger/ledger.h"

struct recent {
	struct wall start; /* the counts are since */
	struct recent_hour {
		struct wall at;
		int64_t counts[LEDGER_COUNTS];
	} hours[2];           /* this one as it began, and the one before */
	struct mono hour_end; /* of this one */
};

/*
 * Fills recent and recent_since of `device` from its counts, which run from its `since`;
 * they are of `now`.  Between one and two hours are told of, once it has been counted for
 * that long.  Empty is {0}; counts with another `since` begin anew.
 */
void recent_tell(struct recent *recent, struct ledger_device *device, struct mono now);

#endif
