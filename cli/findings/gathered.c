/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/gathered.h"

#include <stdlib.h>

struct gathered_one {
	struct finding finding;
	struct span span;
};

bool
gathered_add(struct gathered *told, const struct finding *finding, struct span span)
{
	if (span.first >= told->asked.end || span.end <= told->asked.first)
		return true;
	if (told->count == told->room) {
		size_t room = told->room ? 2 * told->room : 16;
		struct gathered_one *list =
		    reallocarray(told->list, room, sizeof(*list));
		if (!list)
			return false;
		told->list = list;
		told->room = room;
	}
	told->list[told->count++] = (struct gathered_one){*finding, span};
	return true;
}

void
gathered_release(struct gathered *told)
{
	free(told->list);
	*told = (struct gathered){0};
}

static int
order(int64_t a, int64_t b)
{
	return (a > b) - (a < b);
}

/* 0: they are of one subject. */
static int
compare_subjects(const struct finding *x, const struct finding *y)
{
	int by = order(x->cause, y->cause);

	by = by ? by : order(x->position, y->position);
	by = by ? by : order(x->side, y->side);
	by = by ? by : order(x->up, y->up);
	return by || x->cause != FINDING_DISAGREES ? by : order(x->feature, y->feature);
}

static int
compare_to_join(const void *a, const void *b)
{
	const struct gathered_one *x = a, *y = b;
	int by = compare_subjects(&x->finding, &y->finding);

	return by ? by : order((int64_t)x->span.first, (int64_t)y->span.first);
}

/* What goes on while it shows already; as sure as the surer of the two, with its
 * evidence. */
static void
join(struct gathered_one *one, const struct gathered_one *next)
{
	struct finding *kept = &one->finding, before = *kept;

	if (next->finding.sure > kept->sure)
		*kept = next->finding;
	kept->first_shot = before.first_shot;
	kept->first_at = before.first_at;
	kept->last_good = before.last_good;
	kept->cut = before.cut;
	kept->last_shot = before.last_shot;
	kept->times = before.times;
	kept->earliest_shot = before.earliest_shot;
	kept->earliest_at = before.earliest_at;
	kept->lasting = before.lasting || next->finding.lasting;
	if (next->span.end > one->span.end) {
		kept->last_shot = next->finding.last_shot;
		one->span.end = next->span.end;
	}
}

/* The last time that it came, and how often it did. */
static void
come_again(struct gathered_one *one, const struct gathered_one *next)
{
	struct finding before = one->finding;

	*one = *next;
	one->finding.times = before.times + 1;
	one->finding.earliest_shot = before.earliest_shot;
	one->finding.earliest_at = before.earliest_at;
}

static void
join_all(struct gathered *told)
{
	size_t kept = 0;

	if (told->count == 0)
		return;
	qsort(told->list, told->count, sizeof(told->list[0]), compare_to_join);
	for (size_t i = 1; i < told->count; i++) {
		struct gathered_one *one = told->list + kept, *next = told->list + i;
		if (compare_subjects(&one->finding, &next->finding) != 0)
			told->list[++kept] = *next;
		else if (next->span.first <= one->span.end)
			join(one, next);
		else
			come_again(one, next);
	}
	told->count = kept + 1;
}

static int
compare_to_tell(const void *a, const void *b)
{
	const struct finding *x = &((const struct gathered_one *)a)->finding,
			     *y = &((const struct gathered_one *)b)->finding;
	bool named_x = x->cause != FINDING_DISAGREES,
	     named_y = y->cause != FINDING_DISAGREES;

	if (x->lasting != y->lasting)
		return x->lasting ? -1 : 1;
	if (named_x != named_y)
		return named_x ? -1 : 1;
	if (x->sure != y->sure)
		return x->sure > y->sure ? -1 : 1;
	return order(x->first_shot, y->first_shot);
}

size_t
gathered_write(struct gathered *told, struct finding *findings, size_t room)
{
	join_all(told);
	if (told->count > 0)
		qsort(told->list, told->count, sizeof(told->list[0]), compare_to_tell);
	for (size_t i = 0; i < told->count && i < room; i++)
		findings[i] = told->list[i].finding;
	return told->count;
}
