/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/ranges.h"

#include <inttypes.h>
#include <stdlib.h>

#include "daemon/base/text.h"

bool
ranges_add(struct ranges *ranges, int64_t first, int64_t last)
{
	if (ranges->count > 0 && ranges->list[ranges->count - 1].last == first - 1) {
		ranges->list[ranges->count - 1].last = last;
		return true;
	}
	if (ranges->count == ranges->room) {
		size_t room = ranges->room ? ranges->room * 2 : 16;
		struct range *list = reallocarray(ranges->list, room, sizeof *list);
		if (!list)
			return false;
		ranges->list = list;
		ranges->room = room;
	}
	ranges->list[ranges->count++] = (struct range){first, last};
	return true;
}

int64_t
ranges_numbers(const struct ranges *ranges)
{
	int64_t numbers = 0;

	for (size_t i = 0; i < ranges->count; i++)
		numbers += ranges->list[i].last - ranges->list[i].first + 1;
	return numbers;
}

void
ranges_text(const struct ranges *ranges, struct text *text)
{
	for (size_t i = 0; i < ranges->count; i++) {
		const struct range *range = &ranges->list[i];
		text_printf(text, "%s%" PRId64, text->length ? ", " : "", range->first);
		if (range->last > range->first)
			text_printf(text, "-%" PRId64, range->last);
	}
}

void
ranges_release(struct ranges *ranges)
{
	free(ranges->list);
	*ranges = (struct ranges){0};
}
