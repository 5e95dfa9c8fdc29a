/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was read of a set-up's devices: a row a device, a row a channel, what is wrong. */
#include "cli/command/check_live.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "cli/command/channel_value.h"
#include "cli/wording/shown.h"
#include "cli/page/page.h"
#include "conf/notes.h"
#include "conf/register.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static const char *
answers_word(const struct live_device *live)
{
	if (live->answered == live->plan->block_count)
		return "yes";
	return live->answered > 0 ? "in part" : "no";
}

static void
put_devices(struct page *page, const struct settings *settings,
    const struct live_device *live, size_t count)
{
	static const struct column columns[] = {
	    {"device", "device", 0},
	    {"bus", "bus", 0},
	    {"unit_id", "unit", 0},
	    {"answers", "answers", 0},
	    {"channels", "channels", 0},
	    {"good", "good", 0},
	    {"requests", NULL, 0},
	    {"slowest_s", "slowest ms", 0},
	    {"why", NULL, 0},
	};

	page_table(page, "live_devices", "Devices", columns, COUNT(columns));
	for (size_t i = 0; i < count; i++) {
		const struct device_settings *device =
		    &settings->devices[live[i].device];
		struct cell answers = cell_words(answers_word(&live[i]));
		answers.tone = strcmp(answers.words, "yes") == 0 ? TONE_GOOD : TONE_BAD;
		const struct cell cells[] = {
		    cell_words(device->name),
		    cell_words(settings->buses[device->bus].name),
		    cell_count(device->unit_id),
		    answers,
		    cell_count(device->channel_count),
		    cell_count(live[i].good),
		    cell_count((int64_t)live[i].asked),
		    cell_shown(live[i].slowest_s, live[i].slowest_s * 1000, 1),
		    shown_name(live[i].why),
		};
		page_row(page, cells);
	}
	page_table_end(page);
	for (size_t i = 0; i < count; i++)
		if (*live[i].why && live[i].answered == 0)
			page_note(page, NULL, TONE_BAD, "%s: %s",
			    settings->devices[live[i].device].name, live[i].why);
}

/* The registers as on the wire; "" when there was no answer. */
static void
raw_text(const struct channel_settings *channel, const struct live_channel *live,
    char text[static 16])
{
	if (live->reading.quality == QUALITY_COMM_FAULT)
		text[0] = '\0';
	else if (register_is_bit(channel->table))
		snprintf(text, 16, "%u", live->words[0]);
	else if (register_width(channel->encoding) == 2)
		snprintf(text, 16, "%04X %04X", live->words[0], live->words[1]);
	else
		snprintf(text, 16, "%04X", live->words[0]);
}

enum { CHANNEL_COLUMNS = 10 };

static void
put_channel(struct page *page, const struct settings *settings,
    const struct live_device *live, uint32_t i)
{
	const struct device_settings *device = &settings->devices[live->device];
	const struct channel_settings *channel =
	    &settings->channels[device->first_channel + i];
	const struct live_channel *its = &live->channels[i];
	bool good = its->reading.quality == QUALITY_GOOD;
	const char *quality = quality_text(its->reading.quality);
	char name[2 * SETTINGS_NAME], raw[16], plain[32], value[CHANNEL_VALUE];

	snprintf(name, sizeof name, "%s.%s", device->name, channel->name);
	raw_text(channel, its, raw);
	shown_words(quality, plain, sizeof plain);
	struct cell shown = cell_words(plain);
	shown.tone = good ? TONE_GOOD : TONE_BAD;
	channel_value_text(settings, channel->dimension, its->beyond, value);
	const struct cell cells[] = {
	    cell_words(name),
	    cell_words(device->name),
	    cell_words(channel->name),
	    shown_name(raw),
	    good ? channel_value_cell(
		       settings, channel->dimension, its->reading.value, value)
		 : cell_absent(*value ? value : NULL),
	    cell_words(
		unit_text(unit_shown(channel->dimension, settings->temperature))),
	    cell_words(unit_si_text(channel->dimension)),
	    shown,
	    cell_words(quality),
	    *its->why ? cell_words(its->why) : cell_absent(""),
	};
	page_row(page, cells);
}

/* The same rows for machines and for people; of a device that does not answer people see
 * no channels. */
static void
put_channels(struct page *page, const struct settings *settings,
    const struct live_device *live, size_t count)
{
	static const struct column machines[CHANNEL_COLUMNS] = {
	    {NULL, NULL, 0},
	    {"device", NULL, 0},
	    {"channel", NULL, 0},
	    {"raw", NULL, 0},
	    {"value", NULL, 0},
	    {NULL, NULL, 0},
	    {"unit", NULL, 0},
	    {NULL, NULL, 0},
	    {"quality", NULL, 0},
	    {"why", NULL, 0},
	};
	static const struct column people[CHANNEL_COLUMNS] = {
	    {NULL, "channel", 0},
	    {NULL, NULL, 0},
	    {NULL, NULL, 0},
	    {NULL, "raw", 0},
	    {NULL, "value", 0},
	    {NULL, "unit", 0},
	    {NULL, NULL, 0},
	    {NULL, "quality", 0},
	    {NULL, NULL, 0},
	    {NULL, NULL, 0},
	};

	page_table(page, "live_channels", NULL, machines, CHANNEL_COLUMNS);
	for (size_t d = 0; d < count; d++)
		for (uint32_t i = 0; i < live[d].plan->channel_count; i++)
			put_channel(page, settings, &live[d], i);
	page_table_end(page);
	page_table(page, NULL, "Channels, each read once", people, CHANNEL_COLUMNS);
	for (size_t d = 0; d < count; d++)
		for (uint32_t i = 0; i < live[d].plan->channel_count; i++)
			if (live[d].answered > 0)
				put_channel(page, settings, &live[d], i);
	page_table_end(page);
	for (size_t d = 0; d < count; d++)
		if (live[d].answered > 0)
			live_put_causes(page, settings, &live[d]);
}

static bool
is_wrong(const struct live_device *live, uint32_t i, uint32_t as)
{
	(void)as;
	return live->channels[i].reading.quality != QUALITY_GOOD;
}

/* "water (20 channels), pyrometers.surface_top 1-2". */
static void
add_wrong(
    const struct settings *settings, const struct live_device *live, struct text *names)
{
	uint32_t count = live->plan->channel_count;

	if (live->answered > 0 || count == 0)
		live_add_names(settings, live, is_wrong, 0, names);
	else
		text_printf(names, "%s%s (%" PRIu32 " channel%s)",
		    names->length ? ", " : "", settings->devices[live->device].name,
		    count, count == 1 ? "" : "s");
}

/* Of what is read over and over a frozen sensor shows the same. */
static void
put_frozen(struct page *page, const struct settings *settings,
    const struct live_device *live, size_t count)
{
	for (size_t d = 0; d < count; d++) {
		const struct device_settings *device =
		    &settings->devices[live[d].device];
		for (uint32_t i = 0; i < device->channel_count; i++)
			if (settings->channels[device->first_channel + i]
				.frozen_after_s > 0) {
				page_note(page, NULL, TONE_FAINT,
				    "one reading cannot show a frozen channel: watch "
				    "does");
				return;
			}
	}
}

static void
put_verdict(struct page *page, const struct settings *settings,
    const struct live_device *live, size_t count)
{
	size_t channels = 0, good = 0;
	struct text names;

	text_init(&names, 1 << 16);
	for (size_t d = 0; d < count; d++) {
		channels += live[d].plan->channel_count;
		good += live[d].good;
		if (!live_is_good(&live[d]))
			add_wrong(settings, &live[d], &names);
	}
	page_field(page, "live_good", NULL, cell_count((int64_t)good));
	page_field(page, "live_channel_count", NULL, cell_count((int64_t)channels));
	if (good == channels && channels > 0)
		page_note(
		    page, "live", TONE_GOOD, "all %zu channels have a value", channels);
	else if (channels > 0)
		page_note(page, "live", TONE_BAD,
		    "%zu of %zu channels have a value, not: %s", good, channels,
		    names.length ? names.bytes : "");
	text_release(&names);
}

struct noting {
	struct page *page;
	const struct settings *settings;
	const struct live_device *live;
	size_t count;
};

/* "channel plc.surface_1: ..." of a device that was read. */
static bool
is_about(const struct noting *noting, const char *sentence)
{
	char start[SETTINGS_NAME + 16];

	for (size_t d = 0; d < noting->count; d++) {
		int length = snprintf(start, sizeof start, "channel %s.",
		    noting->settings->devices[noting->live[d].device].name);
		if (strncmp(sentence, start, (size_t)length) == 0)
			return true;
	}
	return false;
}

/* Such as an address that a manual has, not the wire. */
static void
put_note(void *arg, const char *sentence)
{
	const struct noting *noting = arg;
	struct page *page = noting->page;

	if (!is_about(noting, sentence))
		return;
	page_open(page, GROUP_ITEM, NULL, NULL);
	page_note(page, NULL, TONE_PLAIN, "note: %s", sentence);
	page_field(page, "text", NULL, cell_words(sentence));
	page_close(page);
}

/* Those notes on the set-up that are about the channels read. */
static void
put_notes(struct page *page, const struct settings *settings,
    const struct live_device *live, size_t count)
{
	struct noting noting = {page, settings, live, count};

	page_open(page, GROUP_LIST, "notes", NULL);
	notes_tell(settings, put_note, &noting);
	page_close(page);
}

void
live_put(struct page *page, const struct settings *settings,
    const struct live_device *live, size_t count)
{
	put_channels(page, settings, live, count);
	put_devices(page, settings, live, count);
	put_notes(page, settings, live, count);
	put_verdict(page, settings, live, count);
	put_frozen(page, settings, live, count);
}
