/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/status_age.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/text.h"
#include "daemon/ledger/ledger_lock.h"
#include "daemon/ledger/ledger_read.h"

/* The daemon writes how it is every 15 s at the latest; more than this is late. */
static const int64_t STALE_NS = INT64_C(30) * CLOCK_SECOND_NS;
static const int64_t OUR_CLOCK_NS = INT64_C(3600) * CLOCK_SECOND_NS;

static int
take(void *arg, const struct ledger_health *health)
{
	struct status_age *age = arg;

	if (strcmp(health->subject, "daemon") == 0)
		age->started = health->since;
	if (health->at.ns > age->at.ns)
		age->at = health->at;
	return 0;
}

/* Whether the clock of its rows is the system's: one that logs a simulated line has
 * another.  The run's number is the system's time at which it started, but for some bits. */
static bool
has_our_clock(const struct status_age *age, const char *path)
{
	return llabs(age->started.ns - ledger_lock_run(path)) < OUR_CLOCK_NS;
}

int
status_age_read(struct status_age *age, const struct session *session, bool current,
    struct error *error)
{
	*age = (struct status_age){0};
	int code = ledger_read_health(session->ledger, take, age, error);
	age->stale = current && has_our_clock(age, session->path) &&
	             clock_wall().ns - age->at.ns > STALE_NS;
	return code;
}

void
status_age_text(const struct status_age *age, char text[static STATUS_AGE_TEXT])
{
	char ago[TEXT_DURATION];

	text_from_duration(clock_wall().ns - age->at.ns, ago);
	snprintf(text, STATUS_AGE_TEXT, "Health, as it was %s ago", ago);
}
