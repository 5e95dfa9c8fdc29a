/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/shot_causes.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/wording/shown.h"
#include "conf/raw.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/scanned.h"

enum { NOTES_MAX = 12 };

struct counts { /* readings of one channel */
	int64_t read, sentinel, bit, frozen;
};

struct shot_causes {
	const struct settings *settings;
	struct counts *channels;
};

struct shot_causes *
shot_causes_new(const struct settings *settings)
{
	struct shot_causes *causes = calloc(1, sizeof *causes);

	if (!causes)
		return NULL;
	causes->settings = settings;
	causes->channels =
	    calloc(settings->channel_count + 1, sizeof *causes->channels);
	if (causes->channels)
		return causes;
	free(causes);
	return NULL;
}

void
shot_causes_free(struct shot_causes *causes)
{
	if (!causes)
		return;
	free(causes->channels);
	free(causes);
}

/* A reading that its own register would not make one is a fault bit's. */
static void
count(struct counts *counts, const struct channel_settings *channel,
    const struct reading *reading)
{
	counts->read += reading->quality != QUALITY_STALE;
	if (reading->quality == QUALITY_FROZEN)
		counts->frozen++;
	else if (reading->quality != QUALITY_SENSOR_FAULT)
		return;
	else if (channel->fault_channel < 0 ||
		 raw_reading(channel, reading->raw).quality == QUALITY_SENSOR_FAULT)
		counts->sentinel++;
	else
		counts->bit++;
}

void
shot_causes_add(struct shot_causes *causes, const struct scan *scan)
{
	uint32_t first = scanned_first(causes->settings, scan);

	for (uint32_t i = 0; i < scan->count; i++)
		count(&causes->channels[first + i],
		    &causes->settings->channels[first + i], &scan->readings[i]);
}

static void
put_channel(struct page *page, const struct settings *settings,
    const struct channel_settings *channel, const struct counts *counts)
{
	char sentinel[64] = "", bit[SETTINGS_NAME + 64] = "", frozen[64] = "";

	if (counts->sentinel > 0)
		snprintf(sentinel, sizeof sentinel,
		    ", %" PRId64 " a sentinel or no number", counts->sentinel);
	if (counts->bit > 0)
		snprintf(bit, sizeof bit, ", %" PRId64 " beside its fault bit %s",
		    counts->bit, settings->channels[channel->fault_channel].name);
	if (counts->frozen > 0)
		snprintf(frozen, sizeof frozen,
		    ", %" PRId64 " while it had stood still", counts->frozen);
	page_note(page, NULL, TONE_BAD, "%s.%s: of %" PRId64 " readings%s%s%s",
	    settings->devices[channel->device].name, channel->name, counts->read,
	    sentinel, bit, frozen);
}

void
shot_causes_put(const struct shot_causes *causes, struct page *page)
{
	const struct settings *settings = causes->settings;
	int told = 0;

	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct counts *counts = &causes->channels[i];

		if (counts->sentinel + counts->bit + counts->frozen == 0)
			continue;
		if (told++ < NOTES_MAX)
			put_channel(page, settings, &settings->channels[i], counts);
	}
	if (told > NOTES_MAX)
		page_note(page, NULL, TONE_BAD, "and so of %d channels more",
		    told - NOTES_MAX);
}
