/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/watch_channels.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/command/channel_value.h"
#include "cli/wording/shown.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { VALUES = 4096, QUALITIES = 128 };

static struct cell
value_cell(const struct watch_view *view, uint32_t channel)
{
	const struct watch_reading *reading = &view->readings[channel];
	bool good = reading->heard && reading->last.quality == QUALITY_GOOD;

	return good ? shown_channel(view->settings,
			  view->settings->channels[channel].dimension,
			  reading->last.value)
	            : cell_absent(NULL);
}

static const char *
quality_word(const struct watch_reading *reading)
{
	return reading->heard ? quality_text(reading->last.quality) : "not_read_yet";
}

/* --- a row a channel, for machines ---------------------------------------------------------- */

static void
put_channels(struct page *page, const struct watch_view *view, uint32_t device)
{
	static const struct column columns[] = {
	    {"device", NULL, 0},
	    {"channel", NULL, 0},
	    {"role", NULL, 0},
	    {"value", NULL, 0},
	    {"unit", NULL, 0},
	    {"quality", NULL, 0},
	    {"age_s", NULL, 0},
	    {"period_s", NULL, 0},
	};
	const struct settings *settings = view->settings;
	const struct device_settings *its = &settings->devices[device];

	page_table(page, "channels", NULL, columns, COUNT(columns));
	for (uint32_t i = 0; i < its->channel_count; i++) {
		uint32_t c = its->first_channel + i;
		const struct channel_settings *channel = &settings->channels[c];
		const struct watch_reading *reading = &view->readings[c];
		const struct cell cells[] = {
		    cell_words(its->name),
		    cell_words(channel->name),
		    cell_words(role_text(channel->role)),
		    value_cell(view, c),
		    cell_words(unit_si_text(channel->dimension)),
		    cell_words(quality_word(reading)),
		    isnan(reading->age_s) || !reading->heard
			? cell_absent(NULL)
			: cell_number(reading->age_s, 3),
		    cell_number(channel->period_s, 3),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

/* Those that stand in the table of the bits. */
static bool
is_told(const struct watch_view *view, uint32_t channel)
{
	for (size_t i = 0; view->device < 0 && i < view->line_count; i++)
		for (size_t b = 0; b < view->lines[i].bit_count; b++)
			if (view->lines[i].bits[b].channel == channel)
				return true;
	return false;
}

/* --- a row a role, for people ----------------------------------------------------------------- */

/* How many channels from `first` on are one role's and read together, position by
 * position. */
static uint32_t
family_of(const struct settings *settings, uint32_t first, uint32_t end)
{
	const struct channel_settings *one = &settings->channels[first];
	uint32_t count = 1;

	while (one->position > 0 && first + count < end) {
		const struct channel_settings *next = &one[count];
		if (next->role != one->role || next->oven != one->oven ||
		    next->side != one->side || next->at_heat != one->at_heat ||
		    next->period_s < one->period_s || next->period_s > one->period_s ||
		    next->position != one->position + (int)count)
			break;
		count++;
	}
	return count;
}

/* "zone_top 1-24" of zone_top_1 to zone_top_24. */
static void
family_name(const struct settings *settings, uint32_t first, uint32_t count,
    char name[static SETTINGS_NAME * 2])
{
	const struct channel_settings *one = &settings->channels[first];
	const char *end = strrchr(one->name, '_');
	bool numbered =
	    end && end[1] && strspn(end + 1, "0123456789") == strlen(end + 1);

	if (count == 1 || !numbered)
		text_copy(name, SETTINGS_NAME * 2, one->name);
	else
		snprintf(name, SETTINGS_NAME * 2, "%.*s %s-%d", (int)(end - one->name),
		    one->name, end + 1, one->position + (int)count - 1);
}

/* "good", or how many are what: "22 good, 2 sensor fault". */
static void
family_quality(const struct watch_view *view, uint32_t first, uint32_t count,
    char words[static QUALITIES])
{
	struct text text;

	text_init(&text, QUALITIES);
	for (uint32_t i = 0; i < count; i++) {
		const char *word = quality_word(&view->readings[first + i]);
		char plain[32];
		uint32_t same = 0, before = 0;
		for (uint32_t k = 0; k < count; k++)
			if (strcmp(quality_word(&view->readings[first + k]), word) ==
			    0) {
				same++;
				before += k < i;
			}
		shown_words(word, plain, sizeof plain);
		if (before == 0 && same == count)
			text_puts(&text, plain);
		else if (before == 0)
			text_printf(&text, "%s%" PRIu32 " %s", text.length ? ", " : "",
			    same, plain);
	}
	text_copy(words, QUALITIES, text.bytes ? text.bytes : "");
	text_release(&text);
}

static void
family_values(
    const struct watch_view *view, uint32_t first, uint32_t count, struct text *values)
{
	for (uint32_t i = 0; i < count; i++) {
		const struct watch_reading *reading = &view->readings[first + i];
		bool good = reading->heard && reading->last.quality == QUALITY_GOOD;
		char value[CHANNEL_VALUE] = "-";
		if (good)
			channel_value_text(view->settings,
			    view->settings->channels[first + i].dimension,
			    reading->last.value, value);
		text_printf(values, "%s%s", i > 0 ? " " : "", value);
	}
}

static void
put_family(
    struct page *page, const struct watch_view *view, uint32_t first, uint32_t count)
{
	const struct settings *settings = view->settings;
	const struct channel_settings *one = &settings->channels[first];
	char name[SETTINGS_NAME * 2], quality[QUALITIES];
	double age_s = NAN;
	struct text values;

	family_name(settings, first, count, name);
	family_quality(view, first, count, quality);
	for (uint32_t i = 0; i < count; i++)
		if (view->readings[first + i].heard)
			age_s = fmax(age_s, view->readings[first + i].age_s);
	text_init(&values, VALUES);
	family_values(view, first, count, &values);
	struct cell good = cell_words(quality);
	good.tone = strcmp(quality, "good") == 0 ? TONE_GOOD : TONE_BAD;
	const struct cell cells[] = {
	    cell_words(name),
	    cell_words(role_text(one->role)),
	    cell_words(unit_text(unit_shown(one->dimension, settings->temperature))),
	    cell_number(one->period_s, 2),
	    isnan(age_s) ? cell_absent(NULL) : cell_number(age_s, 1),
	    good,
	    cell_words(values.bytes ? values.bytes : ""),
	};
	page_row(page, cells);
	text_release(&values);
}

static void
put_families(struct page *page, const struct watch_view *view, uint32_t device)
{
	static const struct column columns[] = {
	    {NULL, "channel", 0},
	    {NULL, "role", 0},
	    {NULL, "unit", 0},
	    {NULL, "every s", 0},
	    {NULL, "age s", 0},
	    {NULL, "quality", 0},
	    {NULL, "value", 0},
	};
	const struct settings *settings = view->settings;
	const struct device_settings *its = &settings->devices[device];
	uint32_t end = its->first_channel + its->channel_count;

	page_table(page, NULL, NULL, columns, COUNT(columns));
	for (uint32_t c = its->first_channel; c < end;) {
		uint32_t count = family_of(settings, c, end);
		if (!is_told(view, c))
			put_family(page, view, c, count);
		c += count;
	}
	page_table_end(page);
}

static void
note_frozen(struct page *page, const struct watch_view *view, uint32_t device)
{
	const struct device_settings *its = &view->settings->devices[device];

	for (uint32_t i = 0; i < its->channel_count; i++) {
		uint32_t c = its->first_channel + i;
		const struct channel_settings *channel = &view->settings->channels[c];
		if (view->readings[c].heard &&
		    view->readings[c].last.quality == QUALITY_FROZEN)
			page_note(page, NULL, TONE_BAD,
			    "'%s' has shown the same for over %.0f s while others of "
			    "its kind moved: it counts as broken",
			    channel->name, channel->frozen_after_s);
	}
}

/* Whether a channel that was asked for has no value, and one reading shows it: not so of
 * a frozen one. */
static bool
is_wanting(const struct watch_view *view, uint32_t device)
{
	const struct device_settings *its = &view->settings->devices[device];

	for (uint32_t i = 0; i < its->channel_count; i++) {
		const struct watch_reading *reading =
		    &view->readings[its->first_channel + i];
		if (reading->heard && reading->last.quality != QUALITY_GOOD &&
		    reading->last.quality != QUALITY_FROZEN)
			return true;
	}
	return false;
}

/* --- the device --------------------------------------------------------------------------------- */

void
watch_channels_put(struct page *page, const struct watch_view *view, uint32_t device)
{
	const struct device_settings *its = &view->settings->devices[device];
	const struct device_status *status = &view->devices[device];
	const char *state = status->answering > 0   ? "answers"
	                    : status->answering < 0 ? "not asked yet"
	                    : status->in_part       ? "answers in part"
	                                            : "does not answer";
	char heading[2 * SETTINGS_NAME + 160];

	snprintf(heading, sizeof heading,
	    "%s, unit %d at %s: %s; %" PRId64 " scans, %" PRId64 " failed", its->name,
	    its->unit_id, view->settings->buses[its->bus].name, state, status->scans,
	    status->failures);
	page_open(page, GROUP_ITEM, NULL, heading);
	page_field(page, "device", NULL, cell_words(its->name));
	page_field(page, "answering", NULL,
	    status->answering < 0 ? cell_absent(NULL)
				  : cell_truth(status->answering > 0));
	page_field(page, "in_part", NULL, cell_truth(status->in_part));
	page_field(page, "scans", NULL, cell_count(status->scans));
	page_field(page, "failures", NULL, cell_count(status->failures));
	page_field(page, "failure", NULL, shown_name(status->text));
	if (status->answering == 0)
		page_note(page, NULL, TONE_BAD, "%s", status->text);
	put_channels(page, view, device);
	put_families(page, view, device);
	note_frozen(page, view, device);
	if (is_wanting(view, device))
		page_note(page, NULL, TONE_FAINT,
		    "why, and what to look at: evensoak check --live --device %s",
		    its->name);
	page_close(page);
}
