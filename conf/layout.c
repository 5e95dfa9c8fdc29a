/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/layout.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/channel.h"
#include "conf/draft.h"
#include "conf/role.h"
#include "conf/words.h"

/* The sound ones of a draft, for sorting. */
struct spans {
	struct span {
		struct part *part;
		int first, last; /* in sixteenths of a register, so that bits count */
	} * list;
	size_t count;
};

/* --- registers -------------------------------------------------------------------- */

static void
make_span(struct part *part, struct span *span)
{
	const struct channel_draft *channel = &part->as.channel;
	int first, last;

	channel_span(part, &first, &last);
	*span = (struct span){part, first * 16, last * 16 + 15};
	if (channel->out.bit >= 0) {
		span->first += channel->out.bit;
		span->last = span->first + channel->count - 1;
	}
}

/* By device, table and first bit. */
static int
compare_spans(const void *a, const void *b)
{
	const struct span *one = a, *other = b;
	enum register_table table = one->part->as.channel.out.table;
	enum register_table other_table = other->part->as.channel.out.table;

	if (one->part->parent != other->part->parent)
		return one->part->parent < other->part->parent ? -1 : 1;
	if (table != other_table)
		return table < other_table ? -1 : 1;
	if (one->first != other->first)
		return one->first < other->first ? -1 : 1;
	return one->part->source->line - other->part->source->line;
}

static bool
is_same_table(const struct part *one, const struct part *other)
{
	return one->parent == other->parent &&
	       one->as.channel.out.table == other->as.channel.out.table;
}

static void
refuse_overlap(struct draft *draft, struct part *one, struct part *other)
{
	struct part *later = one > other ? one : other;
	const struct part *earlier = one > other ? other : one;
	int first, last;
	char to[16] = "";

	channel_span(later, &first, &last);
	if (last > first)
		snprintf(to, sizeof to, " to %d", last);
	part_refuse(draft, later, "address",
	    "%s takes %s %d%s, where %s in line %d lies: give one of them another "
	    "'address'%s",
	    later->source->title, words_table.list[later->as.channel.out.table], first,
	    to, earlier->source->title, earlier->source->line,
	    later->as.channel.out.bit >= 0 ? " or 'bit'" : "");
}

static void
check_overlaps(struct draft *draft, struct spans *spans)
{
	const struct span *reach = NULL; /* of those before, the one that ends last */

	qsort(spans->list, spans->count, sizeof spans->list[0], compare_spans);
	for (size_t i = 0; i < spans->count; i++) {
		const struct span *span = spans->list + i;

		if (!reach || !is_same_table(reach->part, span->part)) {
			reach = span;
			continue;
		}
		if (span->first <= reach->last)
			refuse_overlap(draft, reach->part, span->part);
		if (span->last > reach->last)
			reach = span;
	}
}

/* --- names ------------------------------------------------------------------------ */

struct named {
	struct part *part;
	char name[SETTINGS_NAME];
};

static int
compare_names(const void *a, const void *b)
{
	const struct named *one = a, *other = b;
	int order = strcmp(one->name, other->name);

	if (one->part->parent != other->part->parent)
		return one->part->parent < other->part->parent ? -1 : 1;
	return order ? order : one->part->source->line - other->part->source->line;
}

static void
refuse_names(struct draft *draft, struct named *names, size_t count)
{
	qsort(names, count, sizeof names[0], compare_names);
	for (size_t i = 1; i < count; i++) {
		const struct named *one = names + i - 1, *other = names + i;

		if (one->part->parent == other->part->parent &&
		    strcmp(one->name, other->name) == 0 && !other->part->bad)
			part_refuse(draft, other->part, NULL,
			    "%s makes a channel '%s', as %s in line %d does: give one "
			    "of them another name",
			    other->part->source->title, other->name,
			    one->part->source->title, one->part->source->line);
	}
}

static void
check_names(struct draft *draft, const struct spans *spans)
{
	struct named *names;
	size_t count = 0;

	for (size_t i = 0; i < spans->count; i++)
		count += (size_t)spans->list[i].part->as.channel.count;
	if (count > SETTINGS_CHANNELS) {
		mistakes_add(&draft->mistakes, 0,
		    "has %zu channels: leave some out, %d is the most", count,
		    SETTINGS_CHANNELS);
		return;
	}
	names = calloc(count + 1, sizeof names[0]);
	if (!names) {
		mistakes_add(&draft->mistakes, 0, "cannot be read: out of memory");
		return;
	}
	count = 0;
	for (size_t i = 0; i < spans->count; i++) {
		struct part *part = spans->list[i].part;

		for (int j = 0; j < part->as.channel.count; j++) {
			struct channel_settings channel;

			channel_make(part, j, &channel);
			names[count].part = part;
			memcpy(names[count++].name, channel.name, sizeof channel.name);
		}
	}
	refuse_names(draft, names, count);
	free(names);
}

/* --- places on a line ------------------------------------------------------------- */

/* Who has which role and position on one line; position 0 of roles without. */
struct places {
	struct part *holder[ROLE_COUNT][SETTINGS_POSITIONS + 1];
	int highest[ROLE_COUNT];
};

/* "surface_top 3", or "rotating" where there are no positions. */
static void
place_text(enum role role, int position, char text[static 32])
{
	if (position > 0)
		snprintf(text, 32, "%s %d", role_text(role), position);
	else
		snprintf(text, 32, "%s", role_text(role));
}

static void
take_places(struct draft *draft, struct places *places, struct part *part)
{
	const struct channel_draft *channel = &part->as.channel;
	enum role role = channel->out.role;
	char text[32];

	for (int i = 0; i < channel->count; i++) {
		int position = channel->out.position + (channel->out.position ? i : 0);
		struct part **holder = &places->holder[role][position];

		if (*holder) {
			place_text(role, position, text);
			part_refuse(draft, part,
			    part_has(part, "position") ? "position" : "role",
			    "%s is %s of %s, as %s in line %d is: mend the role%s of "
			    "one of them",
			    part->source->title, text,
			    part->parent->parent->source->title,
			    (*holder)->source->title, (*holder)->source->line,
			    position ? " or position" : "");
			return;
		}
		*holder = part;
		if (position > places->highest[role])
			places->highest[role] = position;
	}
}

static void
check_gaps(struct draft *draft, const struct places *places)
{
	for (int role = 0; role < ROLE_COUNT; role++) {
		struct part *const *holder = places->holder[role];

		if (!role_get((enum role)role)->gapless)
			continue;
		for (int position = places->highest[role]; position > 1; position--)
			if (holder[position] && !holder[position - 1])
				part_refuse(draft, holder[position], "position",
				    "%s has %s %d but none at %d: number the positions "
				    "from 1 without a gap",
				    holder[position]->parent->parent->source->title,
				    role_text((enum role)role), position, position - 1);
	}
}

static void
check_roles(struct draft *draft, struct part *line, const struct places *places)
{
	static const struct {
		enum role role;
		const char *meaning;
	} needed[] = {
	    {ROLE_ROTATING, "the bit that is 1 while the frames move on"},
	    {ROLE_FORM_CLOSED, "the bit that is 1 while the platens are closed"},
	};

	for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
		if (!places->holder[needed[i].role][0])
			part_refuse(draft, line, NULL,
			    "%s has no channel of role %s: write a [channel DEVICE.%s] "
			    "for %s",
			    line->source->title, role_text(needed[i].role),
			    role_text(needed[i].role), needed[i].meaning);
}

static void
count_places(struct line_settings *line, const struct places *places)
{
	line->surfaces_top = places->highest[ROLE_SURFACE_TOP];
	line->surfaces_bottom = places->highest[ROLE_SURFACE_BOTTOM];
	line->zones_top = places->highest[ROLE_ZONE_TOP];
	line->zones_bottom = places->highest[ROLE_ZONE_BOTTOM];
	line->tools = places->highest[ROLE_TOOL];
	line->circuits = places->highest[ROLE_WATER_RETURN];
}

/* `whole`: every channel is known, so what is not there is missing. */
static void
check_line(struct draft *draft, struct part *line, struct places *places, bool whole)
{
	struct part *part = NULL;

	memset(places, 0, sizeof *places);
	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL)
		if (!part->bad && part->parent->parent == line &&
		    part->as.channel.out.role != ROLE_OTHER)
			take_places(draft, places, part);
	if (!whole)
		return;
	check_gaps(draft, places);
	check_roles(draft, line, places);
	count_places(&line->as.line, places);
}

/* Whether every channel can be counted to a line, and every one is sound. */
static bool
is_whole(const struct draft *draft)
{
	const struct part *part = NULL;

	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL)
		if (part->bad || !part->parent->parent)
			return false;
	return true;
}

static bool
collect(struct draft *draft, struct spans *spans)
{
	struct part *part = NULL;

	spans->list = calloc(draft->part_count + 1, sizeof spans->list[0]);
	if (!spans->list)
		return false;
	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL)
		if (!part->bad)
			make_span(part, spans->list + spans->count++);
	return true;
}

bool
layout_check(struct draft *draft)
{
	struct places *places = malloc(sizeof *places);
	bool whole = false;
	struct spans spans = {0};
	struct part *line = NULL;

	if (places && collect(draft, &spans)) {
		check_overlaps(draft, &spans);
		check_names(draft, &spans);
		whole = is_whole(draft); /* what overlaps is not missing */
		while ((line = draft_next(draft, SECTION_LINE, line)) != NULL)
			check_line(draft, line, places, whole);
	} else {
		mistakes_add(&draft->mistakes, 0, "cannot be read: out of memory");
	}
	free(spans.list);
	free(places);
	return whole;
}
