/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between which good shots the suspect ones lie. */
#include "cli/population/suspect.h"

#include <stdlib.h>

struct bounding {
	struct suspects *suspects;
	struct suspect_runs *runs;
	struct suspect_run run; /* that is open: behind the last good one */
	bool holds;             /* something suspect */
	size_t reason;          /* the first that belongs to no earlier run */
};

static int
compare(const void *a, const void *b)
{
	const struct suspect_reason *x = a, *y = b;
	bool before_x = x->kind >= SUSPECT_NO_RECORD,
	     before_y = y->kind >= SUSPECT_NO_RECORD;

	if (x->shot != y->shot)
		return x->shot > y->shot ? 1 : -1;
	if (before_x != before_y)
		return before_x ? -1 : 1; /* lies before the shot */
	if (x->kind != y->kind)
		return x->kind > y->kind ? 1 : -1;
	return (x->feature > y->feature) - (x->feature < y->feature);
}

static void
begin(struct bounding *bounding, size_t first, size_t last_good)
{
	bounding->run = (struct suspect_run){.first = first,
	    .last_good = last_good,
	    .first_good = SUSPECT_NONE,
	    .reason_first = bounding->reason,
	    .first_bad_shot = SUSPECT_NONE};
	bounding->holds = false;
}

static void
note(struct bounding *bounding, const struct suspect_reason *reason)
{
	struct suspect_run *run = &bounding->run;
	bool numbered = reason->kind != SUSPECT_UNLOGGED;

	bounding->holds = true;
	if (run->first_bad != 0 || !numbered)
		return;
	if (reason->kind == SUSPECT_NO_RECORD) {
		run->first_bad = reason->first;
	} else {
		run->first_bad_shot = reason->shot;
		run->first_bad = bounding->suspects->asked->shots[reason->shot].shot_no;
	}
}

/* Whether a run reaches into what is asked about. */
static bool
reaches(const struct bounding *bounding, size_t end)
{
	const struct suspects *suspects = bounding->suspects;
	const struct suspect_asked *asked = suspects->asked;

	for (size_t i = bounding->run.reason_first; i < end; i++) {
		size_t shot = suspects->reasons[i].shot;
		bool before = suspects->reasons[i].kind >= SUSPECT_NO_RECORD;
		if (shot >= asked->first && shot <= asked->last + (before ? 1 : 0))
			return true;
	}
	return false;
}

/* Ends the open run before shot `end`. */
static bool
close_run(struct bounding *bounding, size_t end, size_t first_good)
{
	struct suspect_run *run = &bounding->run;
	struct suspect_runs *runs = bounding->runs;

	if (!bounding->holds || !reaches(bounding, bounding->reason))
		return true;
	run->last = end - 1; /* below `first` when it has no shots: SIZE_MAX for 0 */
	run->first_good = first_good;
	run->reason_count = bounding->reason - run->reason_first;
	struct suspect_run *list =
	    reallocarray(runs->list, runs->count + 1, sizeof *list);
	if (!list)
		return false;
	runs->list = list;
	list[runs->count++] = *run;
	return true;
}

/* The reasons that lie before shot i, or are of it. */
static void
take(struct bounding *bounding, size_t i, bool before)
{
	const struct suspects *suspects = bounding->suspects;

	while (bounding->reason < suspects->reason_count) {
		const struct suspect_reason *reason =
		    &suspects->reasons[bounding->reason];
		if (reason->shot != i || (before && reason->kind < SUSPECT_NO_RECORD))
			return;
		bounding->reason++;
		note(bounding, reason);
	}
}

bool
suspects_bound(struct suspects *suspects, struct suspect_runs *runs)
{
	struct bounding bounding = {.suspects = suspects, .runs = runs};
	size_t count = suspects->asked->count;
	bool done = true;

	*runs = (struct suspect_runs){0};
	if (suspects->reason_count > 1)
		qsort(suspects->reasons, suspects->reason_count,
		    sizeof *suspects->reasons, compare);
	begin(&bounding, 0, SUSPECT_NONE);
	for (size_t i = 0; i < count && done; i++) {
		take(&bounding, i, true);
		if (suspects->state[i] != SUSPECT_GOOD) {
			take(&bounding, i, false);
			continue;
		}
		done = close_run(&bounding, i, i);
		begin(&bounding, i + 1, i);
	}
	return done && close_run(&bounding, count, SUSPECT_NONE);
}

void
suspect_runs_release(struct suspect_runs *runs)
{
	free(runs->list);
	*runs = (struct suspect_runs){0};
}

bool
suspect_run_numbers(const struct suspects *suspects, const struct suspect_run *run,
    struct ranges *ranges)
{
	const struct suspect_asked *asked = suspects->asked;
	size_t reason = run->reason_first, end = reason + run->reason_count;
	size_t behind =
	    run->first_good != SUSPECT_NONE ? run->first_good : asked->count;
	bool done = true;

	/* what lies before the good one behind it belongs to it too */
	for (size_t i = run->first; i <= behind && done; i++) {
		for (; reason < end && suspects->reasons[reason].shot <= i; reason++) {
			const struct suspect_reason *one = &suspects->reasons[reason];
			if (one->kind == SUSPECT_NO_RECORD)
				done =
				    done && ranges_add(ranges, one->first, one->last);
		}
		if (i < behind && suspects->state[i] != SUSPECT_NO_PART)
			done = done && ranges_add(ranges, asked->shots[i].shot_no,
					   asked->shots[i].shot_no);
	}
	return done;
}

int64_t
suspect_run_before(const struct suspects *suspects, const struct suspect_run *run)
{
	const struct suspect_asked *asked = suspects->asked;
	int64_t before = 0;

	/* `last` of a run without shots is before its first */
	for (size_t i = run->first; i < run->last + 1 && i < asked->first; i++)
		before += suspects->state[i] != SUSPECT_NO_PART;
	for (size_t i = 0; i < run->reason_count; i++) {
		const struct suspect_reason *one =
		    &suspects->reasons[run->reason_first + i];
		if (one->kind == SUSPECT_NO_RECORD && one->shot < asked->first)
			before += one->last - one->first + 1;
	}
	return before;
}
