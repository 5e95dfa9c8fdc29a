/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/notify/age.h"

#include <string.h>

#include "daemon/ledger/ledger_read.h"
#include "daemon/notify/notifier.h"

struct age
age_start(struct mono mono, struct wall wall)
{
	return (struct age){wall.ns - mono.ns};
}

bool
age_is_old(const struct age *age, const struct ledger_event *event, struct mono mono,
    struct wall wall)
{
	int64_t most_s = strcmp(event->kind, "finding") == 0 ? 2 * NOTIFIER_OLDEST_S
	                                                     : NOTIFIER_OLDEST_S;
	int64_t unset_ns = mono.ns + age->ahead_ns;
	int64_t now_ns = unset_ns < wall.ns ? unset_ns : wall.ns;

	return event->at.ns < now_ns - most_s * CLOCK_SECOND_NS;
}
