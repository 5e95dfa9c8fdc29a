/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/keeping.h"

#include <stdlib.h>
#include <time.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/ledger/ledger.h"

#define EVERY_NS (3600 * CLOCK_SECOND_NS)
#define DAY_NS (86400 * CLOCK_SECOND_NS)
#define PIECE_NS CLOCK_SECOND_NS /* of the system's time, from piece to piece */

static int64_t
system_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * CLOCK_SECOND_NS + now.tv_nsec;
}

/* ns 0: nothing is that old. */
static struct wall
days_before(struct wall wall, int days, bool trust)
{
	return (struct wall){trust && days > 0 ? wall.ns - days * DAY_NS : 0};
}

/* Notes whether the wall clock has gone on evenly for long enough. */
static void
note_clock(struct keeping *keeping, struct mono now, struct wall wall)
{
	int64_t ahead_ns = wall.ns - now.ns;
	int64_t step_ns = llabs(ahead_ns - keeping->ahead_ns);

	if (!keeping->begun || step_ns > KEEPING_STEP_S * CLOCK_SECOND_NS)
		keeping->trust_from.ns = now.ns + KEEPING_TRUST_S * CLOCK_SECOND_NS;
	keeping->begun = true;
	keeping->ahead_ns = ahead_ns;
	keeping->trusted = now.ns >= keeping->trust_from.ns;
}

/* Once the clock is trusted; at any time what stores have left that are gone. */
static int
forget(struct keeping *keeping, struct ledger *ledger, const struct settings *settings,
    struct wall wall, bool *more, struct error *error)
{
	bool trust = keeping->trusted;
	struct ledger_keep keep = {
	    .channels_before = days_before(wall, settings->keep_channels_days, trust),
	    .shots_before = days_before(wall, settings->keep_shots_days, trust),
	    .destination_count = settings->store_count};
	const char **names;
	int rc;

	names = calloc(settings->store_count + 1, sizeof(*names));
	if (names == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < settings->store_count; i++)
		names[i] = settings->stores[i].name;
	keep.destinations = names;
	rc = ledger_forget(ledger, &keep, more, error);
	free(names);
	return rc;
}

/* It is tried every hour: a line as it begins to fail and one when it works again. */
static void
note(bool *stay, int code, const char *what, const struct error *error)
{
	if (code != 0 && !*stay)
		log_warnx("cannot remove old %s: %s", what, error->text);
	else if (code == 0 && *stay)
		log_info("old %s are removed again", what);
	*stay = code != 0;
}

void
keeping_go(struct keeping *keeping, struct ledger *ledger,
    const struct settings *settings, struct mono now, struct wall wall)
{
	int64_t since_ns = wall.ns - keeping->done.ns;
	struct wall traces_before = {wall.ns - settings->keep_traces_days * DAY_NS};
	bool more_traces = false, more_shots = false;
	struct error error;

	note_clock(keeping, now, wall);
	if (since_ns >= 0 && since_ns < EVERY_NS)
		return;
	if (system_ns() < keeping->next_system_ns)
		return;
	note(&keeping->traces_stay,
	    ledger_forget_traces(ledger, traces_before, &more_traces, &error), "traces",
	    &error);
	note(&keeping->shots_stay,
	    forget(keeping, ledger, settings, wall, &more_shots, &error), "shots",
	    &error);
	if (more_traces || more_shots) {
		keeping->next_system_ns = system_ns() + PIECE_NS;
		return;
	}
	keeping->next_system_ns = 0;
	keeping->done = wall;
}

void
keeping_again(struct keeping *keeping)
{
	keeping->done.ns = 0;
	keeping->next_system_ns = 0;
}
