/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/allowance.h"

static const int64_t day_ns = 86400 * CLOCK_SECOND_NS;

static bool
is_over(const struct allowance *allowance, struct mono now)
{
	return !allowance->begun || now.ns - allowance->since.ns >= day_ns;
}

enum allowance_answer
allowance_take(struct allowance *allowance, struct mono now, int most)
{
	if (is_over(allowance, now)) {
		allowance->begun = true;
		allowance->since = now;
		allowance->told = 0;
	}
	if (allowance->told >= most) {
		allowance->untold++;
		return ALLOWANCE_COUNT;
	}
	return ++allowance->told == most ? ALLOWANCE_LAST : ALLOWANCE_TELL;
}

int64_t
allowance_untold(struct allowance *allowance, struct mono now)
{
	int64_t untold = allowance->untold;

	if (untold == 0 || !is_over(allowance, now))
		return 0;
	allowance->untold = 0;
	allowance->begun = false;
	return untold;
}

bool
allowance_is_spent(const struct allowance *allowance, struct mono now, int most)
{
	return !is_over(allowance, now) && allowance->told >= most;
}
