/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/backoff.h"

#include <math.h>

static const double ASKED_MAX_S = 3600;

void
backoff_init(struct backoff *backoff, double first_s, double longest_s)
{
	*backoff = (struct backoff){.first_s = first_s, .longest_s = longest_s};
}

void
backoff_reset(struct backoff *backoff)
{
	backoff->next_s = 0;
}

double
backoff_next_s(struct backoff *backoff, double at_least_s, double random)
{
	backoff->next_s = fmin(backoff->longest_s,
	    backoff->next_s > 0 ? 2 * backoff->next_s : backoff->first_s);
	return fmax(fmin(at_least_s, ASKED_MAX_S), backoff->next_s * (1 - random / 2));
}
