/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/missing.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"

enum { NAMED_MAX = 3 };

struct state {             /* of one channel */
	struct wall since; /* it has no value; ns 0: it has, or was not read yet */
	enum quality quality;
};

struct missing {
	const struct channel_settings *channels; /* the device's */
	uint32_t count;
	struct state *states;
};

struct missing *
missing_new(const struct settings *settings, uint32_t device)
{
	struct missing *missing = calloc(1, sizeof *missing);

	if (!missing)
		return NULL;
	missing->count = settings->devices[device].channel_count;
	missing->channels =
	    settings->channels + settings->devices[device].first_channel;
	missing->states = calloc((size_t)missing->count + 1, sizeof *missing->states);
	if (missing->states)
		return missing;
	free(missing);
	return NULL;
}

void
missing_free(struct missing *missing)
{
	if (!missing)
		return;
	free(missing->states);
	free(missing);
}

void
missing_note(struct missing *missing, const struct scan *scan)
{
	for (uint32_t i = 0; i < scan->count; i++) {
		struct state *state = &missing->states[scan->first + i];

		state->quality = scan->readings[i].quality;
		if (state->quality == QUALITY_GOOD)
			state->since.ns = 0;
		else if (state->since.ns == 0)
			state->since = scan->wall;
	}
}

uint32_t
missing_count(const struct missing *missing, struct wall *since)
{
	uint32_t count = 0;

	since->ns = 0;
	for (uint32_t i = 0; i < missing->count; i++) {
		const struct state *state = &missing->states[i];

		if (state->since.ns == 0)
			continue;
		count++;
		if (state->quality == QUALITY_OUT_OF_RANGE)
			continue; /* what a pyrometer sees in an empty oven */
		if (since->ns == 0 || state->since.ns < since->ns)
			*since = state->since;
	}
	return count;
}

static const char *
words(enum quality quality)
{
	switch (quality) {
	case QUALITY_SENSOR_FAULT:
		return "reports a fault";
	case QUALITY_COMM_FAULT:
		return "refused";
	case QUALITY_OUT_OF_RANGE:
		return "out of range";
	case QUALITY_FROZEN:
		return "frozen";
	case QUALITY_GOOD:
	case QUALITY_STALE:
		break;
	}
	return "not read";
}

void
missing_text(const struct missing *missing, char *text, size_t room)
{
	size_t length = 0;
	int named = 0;

	text[0] = '\0';
	for (uint32_t i = 0; i < missing->count; i++) {
		char one[SETTINGS_NAME + 32];
		const char *comma = named ? ", " : "";

		if (missing->states[i].since.ns == 0)
			continue;
		snprintf(one, sizeof one, "%s%s %s", comma, missing->channels[i].name,
		    words(missing->states[i].quality));
		if (named++ == NAMED_MAX ||
		    length + strlen(one) + sizeof ", ..." > room) {
			snprintf(text + length, room - length, "%s...", comma);
			return;
		}
		length += (size_t)snprintf(text + length, room - length, "%s", one);
	}
}
