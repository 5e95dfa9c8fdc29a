/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/watch_view.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/remark.h"
#include "cli/wording/shown.h"
#include "cli/command/watch_channels.h"
#include "daemon/base/calendar.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

bool
watch_view_init(struct watch_view *view, const struct settings *settings)
{
	bool made = true;

	*view = (struct watch_view){.settings = settings, .device = -1};
	view->lines = calloc(settings->line_count + 1, sizeof *view->lines);
	view->readings = calloc(settings->channel_count + 1, sizeof *view->readings);
	view->devices = calloc(settings->device_count + 1, sizeof *view->devices);
	for (size_t i = 0; view->lines && i < settings->line_count; i++) {
		struct watch_line *line = &view->lines[i];
		line->bits = calloc(settings->channel_count + 1, sizeof *line->bits);
		made &= line->bits != NULL;
	}
	return made && view->lines && view->readings && view->devices;
}

void
watch_view_release(struct watch_view *view)
{
	for (size_t i = 0; view->lines && i < view->settings->line_count; i++)
		free(view->lines[i].bits);
	free(view->lines);
	free(view->readings);
	free(view->devices);
	*view = (struct watch_view){0};
}

static bool
is_drawn(const struct watch_view *view, uint32_t device)
{
	if (view->device >= 0 && view->device != device)
		return false;
	for (size_t i = 0; i < view->line_count; i++)
		if (view->lines[i].line == view->settings->devices[device].line)
			return true;
	return false;
}

static bool
is_line_odd(const struct watch_line *line)
{
	for (size_t b = 0; b < line->bit_count; b++)
		if (*line->bits[b].remark)
			return true;
	return line->empty_formed > 0;
}

bool
watch_view_is_odd(const struct watch_view *view)
{
	for (uint32_t i = 0; i < view->settings->device_count; i++)
		if (is_drawn(view, i) && view->devices[i].answering != 1)
			return true;
	for (size_t i = 0; view->device < 0 && i < view->line_count; i++)
		if (is_line_odd(&view->lines[i]))
			return true;
	return false;
}

/* --- the stations ------------------------------------------------------------------------ */

static void
sheet_words(const struct tracker_place *place, char words[static 48])
{
	if (place->empty)
		snprintf(words, 48, "none");
	else if (!place->seen)
		snprintf(words, 48, "not followed yet");
	else
		snprintf(words, 48, "sheet %lld%s", (long long)place->number,
		    place->forming ? ", platens closed" : "");
}

static void
put_stations(
    struct page *page, const struct watch_view *view, const struct watch_line *line)
{
	static const struct column columns[] = {
	    {"side", NULL, 0},
	    {NULL, "side", 0},
	    {"station", "station", 0},
	    {NULL, "what stands there", 0},
	    {"seen", NULL, 0},
	    {"sheet", NULL, 0},
	    {"empty", NULL, 0},
	    {"forming", NULL, 0},
	    {"stands_s", "for s", 0},
	    {NULL, "since", 0},
	    {"flags", NULL, 0},
	    {NULL, "what is odd", 0},
	};

	page_table(page, "stations", "Stations", columns, COUNT(columns));
	for (size_t i = 0; i < line->place_count; i++) {
		const struct tracker_place *place = &line->places[i];
		char words[48], flags[SHOWN_FLAGS], odd[REMARK_TEXT];
		double since_s = place->since_s;
		char since[CALENDAR_TEXT] = "-";
		if (!isnan(since_s))
			shown_clock(
			    (struct wall){view->at.ns - (int64_t)(since_s * 1e9)},
			    view->at, since);
		sheet_words(place, words);
		shown_flags(place->flags, flags);
		remark_flags(place->flags, odd);
		const struct cell cells[] = {
		    shown_name(place->side),
		    cell_words(place->side),
		    cell_words(place->station),
		    cell_words(words),
		    cell_truth(place->seen),
		    place->number > 0 ? cell_count(place->number) : cell_absent(NULL),
		    cell_truth(place->empty),
		    cell_truth(place->forming),
		    isnan(since_s) ? cell_absent(NULL) : cell_number(since_s, 0),
		    cell_words(since),
		    cell_words(flags),
		    cell_words(odd),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

/* --- the status bits ------------------------------------------------------------------------ */

static void
put_bits(
    struct page *page, const struct watch_view *view, const struct watch_line *line)
{
	static const struct column columns[] = {
	    {"device", NULL, 0},
	    {"channel", "bit", 0},
	    {"role", "role", 0},
	    {"level", "now", 0},
	    {"on_ratio", "on %", 0},
	    {"changes", "changes a cycle", 0},
	    {"remark", "remark", 0},
	};
	const struct settings *settings = view->settings;
	char heading[64 + CALENDAR_TEXT], until[CALENDAR_TEXT];

	if (line->cycles == 0) {
		snprintf(heading, sizeof heading, "Status bits: no whole cycle yet");
	} else {
		shown_clock(line->cycles_until, view->at, until);
		snprintf(heading, sizeof heading,
		    "Status bits over the last %d cycle%s, until %s", line->cycles,
		    line->cycles == 1 ? "" : "s", until);
	}
	page_table(page, "bits", heading, columns, COUNT(columns));
	for (size_t i = 0; i < line->bit_count; i++) {
		const struct duty_bit *bit = &line->bits[i];
		const struct channel_settings *channel =
		    &settings->channels[bit->channel];
		struct cell remark = shown_name(bit->remark);
		remark.words = *bit->remark ? bit->remark : "";
		remark.tone = TONE_BAD;
		const struct cell cells[] = {
		    cell_words(settings->devices[channel->device].name),
		    cell_words(channel->name),
		    cell_words(role_text(channel->role)),
		    bit->known ? cell_count(bit->level) : cell_absent(NULL),
		    isnan(bit->on) ? cell_absent(NULL)
				   : cell_shown(bit->on, bit->on * 100, 1),
		    isnan(bit->changes) ? cell_absent(NULL)
					: cell_number(bit->changes, 1),
		    remark,
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

static void
put_last(struct page *page, const struct watch_line *line)
{
	char words[REMARK_TEXT];
	bool any = line->shots > 0;

	remark_why(line->last_outcome, line->last_reason, line->last_flags, words);
	struct cell last =
	    any ? cell_words(shot_outcome_text(line->last_outcome)) : cell_absent(NULL);
	last.instead = any && *words ? words : NULL;
	page_field(page, "shots", "shots since then", cell_count(line->shots));
	page_field(page, "last_outcome", any ? "the last" : NULL, last);
	page_field(page, "last_reason", NULL, shown_name(line->last_reason));
	page_field(page, "last_at", NULL, cell_time(line->last_at));
	page_field(
	    page, "event", *line->event ? "last event" : NULL, shown_name(line->event));
	page_field(page, "empty_formed", NULL, cell_count(line->empty_formed));
	if (line->empty_formed > 0)
		page_note(page, NULL, TONE_BAD,
		    "an empty frame was formed: are there as many stations in the "
		    "configuration as frames on the machine?");
}

static void
put_line(
    struct page *page, const struct watch_view *view, const struct watch_line *line)
{
	const char *name = view->settings->lines[line->line].name;
	char heading[SETTINGS_NAME + CALENDAR_TEXT + 64], at[CALENDAR_TEXT];

	calendar_local_text(view->at, at);
	snprintf(heading, sizeof heading, "%s at %s, watched for %.0f s", name, at,
	    view->watched_s);
	page_open(page, GROUP_ITEM, NULL, heading);
	page_field(page, "line", NULL, cell_words(name));
	page_field(page, "cycles", NULL, cell_count(line->cycles));
	put_stations(page, view, line);
	put_bits(page, view, line);
	put_last(page, line);
	page_close(page);
}

static void
put_lines(struct page *page, const struct watch_view *view)
{
	page_open(page, GROUP_LIST, "lines", NULL);
	for (size_t i = 0; view->device < 0 && i < view->line_count; i++)
		put_line(page, view, &view->lines[i]);
	page_close(page);
}

void
watch_view_put(struct page *page, const struct watch_view *view)
{
	page_field(page, "at", NULL, cell_time(view->at));
	page_field(page, "watched_s", NULL, cell_number(view->watched_s, 1));
	put_lines(page, view);
	page_open(page, GROUP_LIST, "devices", NULL);
	for (uint32_t i = 0; i < view->settings->device_count; i++)
		if (is_drawn(view, i))
			watch_channels_put(page, view, i);
	page_close(page);
}

size_t
watch_view_pieces(const struct watch_view *view)
{
	size_t pieces = view->device < 0;

	for (uint32_t i = 0; i < view->settings->device_count; i++)
		pieces += is_drawn(view, i);
	return pieces;
}

void
watch_view_put_piece(struct page *page, const struct watch_view *view, size_t piece)
{
	if (view->device < 0 && piece-- == 0) {
		put_lines(page, view);
		return;
	}
	for (uint32_t i = 0; i < view->settings->device_count; i++)
		if (is_drawn(view, i) && piece-- == 0) {
			watch_channels_put(page, view, i);
			return;
		}
}
