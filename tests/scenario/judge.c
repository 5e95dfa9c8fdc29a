/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/scenario/judge.h"

#include <assert.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "tests/scenario/evidence.h"

#define COUNTER_STANDS_S 15.0 /* so long it takes to believe one without a silence */

enum { MISSED_MAX = 3 }; /* a counter further ahead was set, for all one knows */

struct judge *
judge_new(const struct line *line, const struct plan *plan, const char *name, int tell)
{
	struct judge *judge = calloc(1, sizeof *judge);

	assert(judge != NULL);
	judge->line = line;
	judge->plan = plan;
	judge->name = name;
	judge->tell = tell;
	return judge;
}

void
judge_free(struct judge *judge)
{
	for (size_t i = 0; i < judge->record_count; i++)
		shot_free(judge->records[i].shot);
	free(judge->records);
	free(judge->hazards);
	free(judge->starts);
	free(judge->silences.list);
	free(judge->unseen.list);
	free(judge->clocks);
	free(judge);
}

/* Room for one more in an array of things of `size` bytes. */
static void *
grow(void *list, size_t count, size_t *room, size_t size)
{
	if (count < *room)
		return list;
	*room = *room * 2 + 64;
	list = realloc(list, *room * size);
	assert(list != NULL);
	return list;
}

static void
add_span(struct spans *spans, double from_s, double to_s)
{
	spans->list =
	    grow(spans->list, spans->count, &spans->room, sizeof spans->list[0]);
	spans->list[spans->count++] = (struct span){from_s, to_s};
}

/* --- what the logger does ------------------------------------------------------------- */

void
judge_poll(struct judge *judge, double asked_before_s, double at_s, bool unseen)
{
	if (at_s - asked_before_s > EDGE_LIMIT_S)
		add_span(&judge->silences, asked_before_s, at_s);
	if (unseen)
		add_span(&judge->unseen, asked_before_s, at_s);
}

static void
add_start(struct judge *judge, struct start start)
{
	judge->starts = grow(judge->starts, judge->start_count, &judge->start_room,
	    sizeof judge->starts[0]);
	judge->starts[judge->start_count++] = start;
}

/* So often a frame went into the first oven. */
static int
entries_within(const struct judge *judge, struct span span)
{
	size_t count;
	const double *entries = line_entries(judge->line, &count);
	int within = 0;

	for (size_t i = 0; i < count; i++)
		within += entries[i] > span.from_s && entries[i] < span.to_s;
	return within;
}

/* Whether a ring is on its way then, or has just arrived. */
static bool
turns_at(const struct judge *judge, double at_s)
{
	double index_s = line_rules(judge->line)->index_s;

	return entries_within(judge,
		   (struct span){at_s - 2 * POLL_S, at_s + index_s + 2 * POLL_S}) > 0;
}

/* A silence after which nothing tells how far the sheets had come, because there is no
 * counter or it was set, is to the logger like not having been there. */
void
judge_find_losses(struct judge *judge)
{
	const struct line_rules *rules = line_rules(judge->line);

	for (size_t i = 0; rules->ring && i < judge->unseen.count; i++)
		add_start(
		    judge, (struct start){judge->unseen.list[i].from_s,
			       judge->unseen.list[i].to_s + COUNTER_STANDS_S, false});
	for (size_t i = 0; i < judge->silences.count; i++) {
		struct span silence = judge->silences.list[i];

		if (rules->ring ? judge_had(judge, ODDITY_COUNTER, silence) ||
				      entries_within(judge, silence) > MISSED_MAX ||
				      turns_at(judge, silence.from_s) ||
				      turns_at(judge, silence.to_s)
				: silence.to_s - silence.from_s > rules->heat_min_s)
			add_start(judge,
			    (struct start){silence.from_s,
				silence.to_s + rules->index_s + 3 * POLL_S, false});
	}
}

void
judge_hazard(struct judge *judge, enum oddity oddity, double from_s, double to_s)
{
	judge->hazards = grow(judge->hazards, judge->hazard_count, &judge->hazard_room,
	    sizeof judge->hazards[0]);
	judge->hazards[judge->hazard_count++] = (struct hazard){oddity, from_s, to_s};
}

void
judge_start(struct judge *judge, double down_s, double at_s, bool resumed)
{
	add_start(judge, (struct start){down_s, at_s, resumed});
	judge_hazard(
	    judge, down_s > 0 ? ODDITY_RESTART : ODDITY_POWER_UP, down_s, at_s + 3);
}

void
judge_clock(struct judge *judge, double at_s, double ahead_s)
{
	judge->clocks = grow(judge->clocks, judge->clock_count, &judge->clock_room,
	    sizeof judge->clocks[0]);
	judge->clocks[judge->clock_count++] = (struct span){at_s, ahead_s};
}

/* --- whose marks -------------------------------------------------------------------- */

static void
read_marks(const struct judge *judge, struct record *record)
{
	for (size_t i = 0; i < record->shot->channel_count; i++) {
		const struct shot_channel *channel = &record->shot->channels[i];
		const struct plan_channel *source =
		    plan_channel(judge->plan, channel->channel);
		int64_t *sheet = source->source == PLAN_TOOL ? &record->tool_sheet
		                                             : &record->surface_sheet;
		int64_t mark;

		if (isnan(channel->mean) || source->source == PLAN_WATER)
			continue;
		if (channel->max > channel->min)
			record->mixed = true;
		if (source->source == PLAN_ZONE)
			continue;
		mark = source->source == PLAN_TOOL
		           ? line_sheet_of_tool(channel->last)
		           : line_sheet_of_surface(channel->last);
		if (*sheet != 0 && mark != *sheet)
			record->mixed = true;
		*sheet = mark;
	}
	if (record->surface_sheet != 0 && record->tool_sheet != 0 &&
	    record->surface_sheet != record->tool_sheet)
		record->mixed = true;
}

void
judge_shot(struct judge *judge, double given_s, struct shot *shot)
{
	struct record *record;

	judge->records = grow(judge->records, judge->record_count, &judge->record_room,
	    sizeof judge->records[0]);
	record = &judge->records[judge->record_count++];
	*record = (struct record){.shot = shot, .given_s = given_s};
	read_marks(judge, record);
	if (shot->shot_no != (int64_t)judge->record_count)
		judge_complain(judge, record, NULL, "is not number %zu of the records",
		    judge->record_count);
}

/* --- what went on -------------------------------------------------------------------- */

void
judge_complain(struct judge *judge, const struct record *record,
    const struct line_sheet *sheet, const char *format, ...)
{
	va_list arguments;

	if (judge->verdicts.wrong++ >= judge->tell)
		return;
	fprintf(stderr, "%s: ", judge->name);
	if (sheet != NULL)
		fprintf(stderr,
		    "sheet %lld (%s, oven %.1f..%.1f, form %.1f..%.1f, "
		    "left %.1f): ",
		    (long long)sheet->number, sheet->outcome, sheet->stays[0].in_s,
		    sheet->stays[sheet->stay_count - 1].out_s, sheet->form_start_s,
		    sheet->form_end_s, sheet->left_s);
	if (record != NULL)
		fprintf(stderr, "record %lld (%s, flags %x, '%s', given %.1f): ",
		    (long long)record->shot->shot_no,
		    shot_outcome_text(record->shot->outcome), record->shot->flags,
		    record->shot->reason, record->given_s);
	va_start(arguments, format);
	vfprintf(stderr, format, arguments);
	va_end(arguments);
	fputc('\n', stderr);
}

static bool
overlap(double from_s, double to_s, struct span span)
{
	return from_s <= span.to_s && to_s >= span.from_s;
}

bool
judge_had(const struct judge *judge, enum oddity oddity, struct span span)
{
	size_t count;
	const struct hazard *of_line = line_hazards(judge->line, &count);

	for (size_t i = 0; i < count; i++)
		if (of_line[i].oddity == oddity &&
		    overlap(of_line[i].from_s, of_line[i].to_s, span))
			return true;
	for (size_t i = 0; i < judge->hazard_count; i++)
		if (judge->hazards[i].oddity == oddity &&
		    overlap(judge->hazards[i].from_s, judge->hazards[i].to_s, span))
			return true;
	return false;
}

bool
spans_touch(const struct spans *spans, struct span span)
{
	for (size_t i = 0; i < spans->count; i++)
		if (overlap(spans->list[i].from_s, spans->list[i].to_s, span))
			return true;
	return false;
}

bool
judge_began(const struct judge *judge, struct span span, bool even_resumed)
{
	for (size_t i = 0; i < judge->start_count; i++) {
		const struct start *start = &judge->starts[i];

		if ((even_resumed || !start->resumed) &&
		    overlap(start->down_s, start->at_s, span))
			return true;
	}
	return false;
}

bool
judge_swallowed(const struct judge *judge, const struct line_sheet *later)
{
	size_t count, i = 0;
	const struct line_sheet *sheets = line_sheets(judge->line, &count);

	while (i < count && sheets[i].number != later->before)
		i++;
	if (i == count)
		return false;
	for (size_t k = 0; k < judge->silences.count; k++) {
		const struct span *silence = &judge->silences.list[k];

		if (silence->from_s <= sheets[i].final_s &&
		    silence->to_s >= later->loaded_s)
			return true;
	}
	return false;
}

bool
judge_out_in_silence(const struct judge *judge, const struct line_sheet *sheet)
{
	for (int i = 1; i < sheet->stay_count; i++)
		if (spans_touch(&judge->silences,
			(struct span){sheet->stays[i - 1].out_s, sheet->stays[i].in_s}))
			return true;
	return false;
}

/* When a frame went into the first oven for the last time before then. */
static double
entry_before_s(const struct judge *judge, double at_s)
{
	size_t count;
	const double *entries = line_entries(judge->line, &count);
	double before_s = -INFINITY;

	for (size_t i = 0; i < count && entries[i] < at_s; i++)
		before_s = entries[i];
	return before_s;
}

enum startup
judge_startup(const struct judge *judge, const struct line_sheet *sheet)
{
	const struct line_rules *rules = line_rules(judge->line);
	double at_s = sheet->stays[0].in_s;

	for (int i = 0; i < rules->startup_shots; i++) {
		double before_s = entry_before_s(judge, at_s);

		/* What came before a logger that knows of nothing? */
		if (judge_began(judge, (struct span){before_s, at_s}, false) ||
		    spans_touch(&judge->silences, (struct span){before_s, at_s}))
			return STARTUP_PERHAPS;
		if (at_s - rules->index_s - before_s >= rules->startup_after_s)
			return judge_had(judge, ODDITY_JOG, (struct span){at_s, at_s})
			           ? STARTUP_PERHAPS
			           : STARTUP_YES;
		at_s = before_s;
	}
	return STARTUP_NO;
}
