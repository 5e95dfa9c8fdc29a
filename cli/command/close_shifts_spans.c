/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which shifts there are in a time. */
#include "cli/command/close_shifts.h"

#include <stdlib.h>
#include <string.h>

#include "conf/shift.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

static bool
is_before(struct calendar_date a, struct calendar_date b)
{
	if (a.year != b.year)
		return a.year < b.year;
	return a.month != b.month ? a.month < b.month : a.day < b.day;
}

/* Whether it is the first section with its name: hours of one shift may stand in several. */
static bool
is_first(const struct settings *settings, size_t i)
{
	for (size_t k = 0; k < i; k++)
		if (strcmp(settings->shifts[k].name, settings->shifts[i].name) == 0)
			return false;
	return true;
}

static int
compare(const void *a, const void *b)
{
	const struct close_span *x = a, *y = b;

	return (x->from.ns > y->from.ns) - (x->from.ns < y->from.ns);
}

static bool
add(struct close_spans *spans, const struct shift_span *shift)
{
	if ((spans->count & (spans->count - 1)) == 0) {
		size_t room = spans->count ? 2 * spans->count : 1;
		struct close_span *list = reallocarray(spans->list, room, sizeof *list);
		if (!list)
			return false;
		spans->list = list;
	}
	struct close_span *span = &spans->list[spans->count++];
	*span = (struct close_span){.from = shift->from, .to = shift->to};
	text_copy(span->shift, sizeof span->shift, shift->shift->name);
	return true;
}

int
close_spans_find(struct close_spans *spans, const struct settings *settings,
    struct wall from, struct wall to, struct error *error)
{
	struct calendar_date date = calendar_date_add(calendar_date_of(from), -1);
	const struct calendar_date end = calendar_date_add(calendar_date_of(to), 1);

	*spans = (struct close_spans){.count = 0};
	for (; is_before(date, end); date = calendar_date_add(date, 1))
		for (size_t i = 0; i < settings->shift_count; i++) {
			struct shift_span shift;
			struct error none;
			if (!is_first(settings, i) ||
			    shift_find(settings, settings->shifts[i].name, date, &shift,
				&none) != 0 ||
			    shift.to.ns <= from.ns || shift.from.ns >= to.ns)
				continue;
			if (!add(spans, &shift))
				return error_set(error, ERROR_MEMORY, "out of memory");
		}
	if (spans->count > 1)
		qsort(spans->list, spans->count, sizeof *spans->list, compare);
	return 0;
}
