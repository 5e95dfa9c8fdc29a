/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How often something may be told in a day, so that what flaps for weeks fills neither a
 * log nor a ledger: so many times, and what is more is counted and told once as the day is
 * over.  A day begins with what is told first.  Pure.  One object belongs to one thread;
 * all zero it is ready.
 */
#ifndef DAEMON_BASE_ALLOWANCE_H
#define DAEMON_BASE_ALLOWANCE_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/base/clock.h"

struct allowance {
	bool begun;
	struct mono since;
	int told;
	int64_t untold; /* since then */
};

enum allowance_answer {
	ALLOWANCE_TELL,
	ALLOWANCE_LAST, /* tell it, and that what comes now is counted only */
	ALLOWANCE_COUNT
};

/* Something happens at `now`; `most` of a day may be told. */
enum allowance_answer allowance_take(
    struct allowance *allowance, struct mono now, int most);

/* How many were not told, once their day is over, and then 0 again: the next day begins. */
int64_t allowance_untold(struct allowance *allowance, struct mono now);

/* Whether what happens now would be counted only. */
bool allowance_is_spent(const struct allowance *allowance, struct mono now, int most);

#endif
