/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/incidents.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings_sizes.h"
#include "daemon/base/allowance.h"
#include "daemon/base/calendar.h"
#include "daemon/base/text.h"

enum { THINGS_MAX = SETTINGS_DEVICES + 64, TEXT = 256 };

/* What works or does not. */
struct thing {
	enum incidents_subject subject;
	char name[SETTINGS_NAME];
	bool seen; /* in this round */
	int works, told;
	struct instant since, failed; /* `works`; when it failed, if that was told */
	struct allowance day;
};

struct loss {
	int64_t told;
	struct mono again; /* not told of before; ns 0: at once */
};

struct incidents {
	struct incidents_sink sink;
	struct instant now;
	bool begun;
	int64_t ahead_ns; /* the wall clock, of the monotonic one */
	int64_t clock_steps;
	bool disk_low;
	struct loss losses[INCIDENTS_LOSSES];
	size_t count;
	struct thing things[THINGS_MAX];
};

struct incidents *
incidents_new(struct incidents_sink sink)
{
	struct incidents *incidents = calloc(1, sizeof(*incidents));

	if (incidents != NULL)
		incidents->sink = sink;
	return incidents;
}

void
incidents_free(struct incidents *incidents)
{
	free(incidents);
}

static void
tell(struct incidents *incidents, struct wall at, const char *kind, const char *text)
{
	incidents->sink.event(incidents->sink.arg, at, kind, text);
}

/* --- the clock ------------------------------------------------------------------------ */

static void
tell_step(struct incidents *incidents, int64_t step_ns)
{
	struct wall now = incidents->now.wall;
	char from[CALENDAR_TEXT], to[CALENDAR_TEXT], by[TEXT_DURATION], text[TEXT];

	calendar_local_text((struct wall){now.ns - step_ns}, from);
	calendar_local_text(now, to);
	text_from_duration(llabs(step_ns), by);
	snprintf(text, sizeof(text),
	    "the system's clock was set %s by %s: from %s to %s",
	    step_ns < 0 ? "back" : "forward", by, from, to);
	tell(incidents, now, "clock_step", text);
}

void
incidents_begin(struct incidents *incidents, struct instant now)
{
	int64_t ahead_ns = now.wall.ns - now.mono.ns;
	int64_t step_ns = incidents->begun ? ahead_ns - incidents->ahead_ns : 0;

	incidents->now = now;
	incidents->begun = true;
	incidents->ahead_ns = ahead_ns;
	for (size_t i = 0; i < incidents->count; i++)
		incidents->things[i].seen = false;
	if (llabs(step_ns) <= INCIDENTS_STEP_S * CLOCK_SECOND_NS)
		return;
	incidents->clock_steps++;
	tell_step(incidents, step_ns);
}

int64_t
incidents_clock_steps(const struct incidents *incidents)
{
	return incidents->clock_steps;
}

/* --- what works or does not ------------------------------------------------------------ */

/* For how long it must have been so to be told of. */
static int64_t
hold_ns(const struct incidents *incidents, const struct thing *thing)
{
	bool flaps =
	    allowance_is_spent(&thing->day, incidents->now.mono, INCIDENTS_DAY);

	return (flaps ? INCIDENTS_FLAPS_S : INCIDENTS_HOLD_S) * CLOCK_SECOND_NS;
}

/* NULL when there is no room. */
static struct thing *
find_thing(
    struct incidents *incidents, enum incidents_subject subject, const char *name)
{
	struct thing *thing;

	for (size_t i = 0; i < incidents->count; i++) {
		thing = &incidents->things[i];
		if (thing->subject == subject && strcmp(thing->name, name) == 0)
			return thing;
	}
	if (incidents->count == THINGS_MAX)
		return NULL;
	thing = &incidents->things[incidents->count++];
	*thing = (struct thing){
	    .subject = subject, .works = 1, .told = 1, .since = incidents->now};
	text_copy(thing->name, sizeof(thing->name), name);
	return thing;
}

static const struct {
	const char *subject, *failing, *working; /* the last two are kinds */
	const char *fails, *works;
} words[] = {
    [INCIDENTS_DEVICE] = {"device", "device_silent", "device_answers",
	"does not answer", "answers again"},
    [INCIDENTS_STORE] = {"store", "store_failing", "store_delivering", "takes nothing",
	"takes what it is sent again"},
    [INCIDENTS_LEDGER] = {"the ledger", "ledger_failing", "ledger_writing",
	"cannot be written", "can be written again"},
    [INCIDENTS_FILE] = {"the ledger's file", "ledger_damaged", "ledger_whole",
	"is damaged", "is whole again"},
};

static void
tell_thing(struct incidents *incidents, struct thing *thing, const char *why)
{
	bool last = allowance_take(&thing->day, incidents->now.mono, INCIDENTS_DAY) ==
	            ALLOWANCE_LAST;
	const char *quote = thing->name[0] != '\0' ? "'" : "";
	const char *blank = thing->name[0] != '\0' ? " " : "";
	char lasted[TEXT_DURATION], text[TEXT];

	if (!thing->works)
		thing->failed = thing->since;
	text_from_duration(thing->since.mono.ns - thing->failed.mono.ns, lasted);
	snprintf(text, sizeof(text), "%s%s%s%s%s %s%s%s%s",
	    words[thing->subject].subject, blank, quote, thing->name, quote,
	    thing->works ? words[thing->subject].works : words[thing->subject].fails,
	    last ? " (it comes and goes: told again once it stays so for 1 h)" : "",
	    thing->works ? ", after " : ": ", thing->works ? lasted : why);
	tell(incidents, thing->since.wall,
	    thing->works ? words[thing->subject].working
			 : words[thing->subject].failing,
	    text);
	thing->told = thing->works;
}

void
incidents_state(struct incidents *incidents, enum incidents_subject subject,
    const char *name, int works, const char *why)
{
	struct thing *thing = find_thing(incidents, subject, name);
	int64_t lasted_ns;

	if (thing == NULL)
		return;
	thing->seen = true;
	if (works < 0)
		return;
	if (thing->works != works) {
		thing->works = works;
		thing->since = incidents->now;
	}
	lasted_ns = incidents->now.mono.ns - thing->since.mono.ns;
	if (thing->told != works && lasted_ns >= hold_ns(incidents, thing))
		tell_thing(incidents, thing, why);
}

void
incidents_end(struct incidents *incidents)
{
	size_t kept = 0;

	for (size_t i = 0; i < incidents->count; i++)
		if (incidents->things[i].seen)
			incidents->things[kept++] = incidents->things[i];
	incidents->count = kept;
}

/* --- losses and the disk ------------------------------------------------------------------ */

static void
tell_loss(struct incidents *incidents, enum incidents_loss loss, int64_t count)
{
	char text[TEXT];

	switch (loss) {
	case INCIDENTS_READINGS:
		snprintf(text, sizeof(text),
		    "readings of %" PRId64 " poll%s were lost: this computer was too "
		    "slow",
		    count, count == 1 ? "" : "s");
		tell(incidents, incidents->now.wall, "readings_lost", text);
		break;
	case INCIDENTS_SHOTS:
		snprintf(text, sizeof(text),
		    "%" PRId64 " shot%s lost: the ledger could not be written and "
		    "memory was full",
		    count, count == 1 ? " was" : "s were");
		tell(incidents, incidents->now.wall, "shots_lost", text);
		break;
	case INCIDENTS_LOSSES:
		break;
	}
}

void
incidents_lost(struct incidents *incidents, enum incidents_loss which, int64_t total)
{
	struct loss *loss = &incidents->losses[which];
	int64_t now_ns = incidents->now.mono.ns;

	if (total <= loss->told || (loss->again.ns != 0 && now_ns < loss->again.ns))
		return;
	tell_loss(incidents, which, total - loss->told);
	loss->told = total;
	loss->again.ns = now_ns + INCIDENTS_AGAIN_S * CLOCK_SECOND_NS;
}

void
incidents_disk(struct incidents *incidents, int64_t free_bytes, int64_t disk_bytes)
{
	double share = INCIDENTS_LOW_SHARE * (double)disk_bytes;
	double low =
	    share < (double)INCIDENTS_LOW_BYTES ? share : (double)INCIDENTS_LOW_BYTES;
	double bound = incidents->disk_low ? 1.5 * low : low;
	char text[TEXT];

	if (((double)free_bytes < bound) == incidents->disk_low)
		return;
	incidents->disk_low = !incidents->disk_low;
	snprintf(text, sizeof(text), "the disk of the ledger has %s: %.0f MB free",
	    incidents->disk_low ? "little room left" : "room again",
	    1e-6 * (double)free_bytes);
	tell(incidents, incidents->now.wall,
	    incidents->disk_low ? "disk_low" : "disk_free", text);
}
