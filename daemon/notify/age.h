/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether an event is too old to be told.  Pure.
 *
 * A computer may come up with a clock that is wrong, and have it set later: what was filed
 * before that has a time of years ago.  So the clock is taken as it would be had nobody
 * set it since the start, where that is earlier: rather is something told late than not.
 */
#ifndef DAEMON_NOTIFY_AGE_H
#define DAEMON_NOTIFY_AGE_H

#include "daemon/base/clock.h"

#include <stdbool.h>

struct ledger_event;

struct age {
	int64_t ahead_ns; /* the wall clock, of the monotonic one, at the start */
};

/* Both are of one instant, here and below. */
struct age age_start(struct mono mono, struct wall wall);

/* Older than NOTIFIER_OLDEST_S; a finding, which has the time of its first shot and is
 * filed up to the end of that shift, than twice that. */
bool age_is_old(const struct age *age, const struct ledger_event *event,
    struct mono mono, struct wall wall);

#endif
