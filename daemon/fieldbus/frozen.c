/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/frozen.h"

#include <math.h>
#include <stdlib.h>

#include "conf/alike.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"

struct seen { /* of one channel */
	bool read, good, changed, stuck;
	uint32_t raw;
	struct mono since;      /* when it was first read with these bits */
	struct mono changed_at; /* when its value last did, as far as `changed` */
};

struct frozen {
	const struct channel_settings *channels; /* the device's */
	uint32_t count;
	struct seen *seen;
};

struct frozen *
frozen_new(const struct settings *settings, uint32_t device)
{
	struct frozen *frozen = calloc(1, sizeof *frozen);

	if (!frozen)
		return NULL;
	frozen->count = settings->devices[device].channel_count;
	frozen->channels = settings->channels + settings->devices[device].first_channel;
	frozen->seen = calloc((size_t)frozen->count + 1, sizeof *frozen->seen);
	if (frozen->seen)
		return frozen;
	free(frozen);
	return NULL;
}

void
frozen_free(struct frozen *frozen)
{
	if (!frozen)
		return;
	free(frozen->seen);
	free(frozen);
}

/* Whether one like it has moved lately. */
static bool
others_move(const struct frozen *frozen, uint32_t channel, struct mono from)
{
	for (uint32_t i = 0; i < frozen->count; i++)
		if (alike_are(&frozen->channels[channel], &frozen->channels[i]) &&
		    frozen->seen[i].changed && frozen->seen[i].changed_at.ns >= from.ns)
			return true;
	return false;
}

static void
look(struct seen *seen, const struct reading *reading, struct mono at)
{
	bool good = reading->quality == QUALITY_GOOD, moved;

	if (reading->quality == QUALITY_COMM_FAULT ||
	    reading->quality == QUALITY_STALE) {
		seen->read = false;
		return;
	}
	moved = seen->read && seen->raw != reading->raw;
	if (!seen->read || moved)
		seen->since = at;
	/* A sensor that breaks, or is mended, tells nothing of the machine. */
	if (moved && seen->good && good) {
		seen->changed = true;
		seen->changed_at = at;
	}
	/* Bits that are the same after a pause have not changed. */
	if (seen->raw != reading->raw)
		seen->stuck = false;
	seen->read = true;
	seen->good = good;
	seen->raw = reading->raw;
}

static bool
is_stuck(struct frozen *frozen, uint32_t channel, struct mono at)
{
	double after_s = frozen->channels[channel].frozen_after_s;
	struct seen *seen = &frozen->seen[channel];
	struct mono from = {at.ns - (int64_t)(after_s * (double)CLOCK_SECOND_NS)};

	if (!(after_s > 0))
		return false;
	if (seen->since.ns < from.ns && others_move(frozen, channel, from))
		seen->stuck = true;
	return seen->stuck;
}

void
frozen_judge(struct frozen *frozen, struct scan *scan)
{
	for (uint32_t i = 0; i < scan->count; i++)
		look(&frozen->seen[scan->first + i], &scan->readings[i], scan->at);
	for (uint32_t i = 0; i < scan->count; i++) {
		struct reading *reading = &scan->readings[i];

		if (reading->quality != QUALITY_GOOD ||
		    !is_stuck(frozen, scan->first + i, scan->at))
			continue;
		reading->quality = QUALITY_FROZEN;
		reading->value = NAN;
	}
}
