/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/layout.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/channel.h"
#include "conf/draft.h"
#include "conf/places.h"
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

/* --- all ------------------------------------------------------------------------ */

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
	bool whole, counted = true;
	struct spans spans = {0};
	struct part *line = NULL;

	if (!collect(draft, &spans)) {
		mistakes_add(&draft->mistakes, 0, "cannot be read: out of memory");
		return false;
	}
	check_overlaps(draft, &spans);
	check_names(draft, &spans);
	free(spans.list);
	whole = is_whole(draft); /* what overlaps is not missing */
	while ((line = draft_next(draft, SECTION_LINE, line)) != NULL)
		counted = places_check_line(draft, line, whole) && counted;
	return counted;
}
