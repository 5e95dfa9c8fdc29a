/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/runs.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

static bool
is_of(const struct run *run, const struct population *population)
{
	return strcmp(run->recipe, population->recipe) == 0 &&
	       strcmp(run->tool, population->tool) == 0;
}

/* NULL: there is none yet. */
static struct run *
find_run(const struct runs *runs, const struct population *population)
{
	for (size_t i = 0; i < runs->count; i++)
		if (is_of(&runs->list[i], population))
			return &runs->list[i];
	return NULL;
}

static void
count_shots(struct runs *runs, const struct population *population)
{
	struct run *run = find_run(runs, population);

	if (!run) {
		run = &runs->list[runs->count++];
		*run = (struct run){.count = 0};
		text_copy(run->recipe, sizeof run->recipe, population->recipe);
		text_copy(run->tool, sizeof run->tool, population->tool);
	}
	run->count += population->complete.count;
	run->lots++;
}

static int
compare_shots(const void *a, const void *b)
{
	const struct run_shot *x = a, *y = b;
	int64_t at_x = x->population->filed_at[x->row].ns,
		at_y = y->population->filed_at[y->row].ns;
	int64_t no_x = x->population->complete.list[x->row],
		no_y = y->population->complete.list[y->row];

	if (at_x != at_y)
		return (at_x > at_y) - (at_x < at_y);
	return (no_x > no_y) - (no_x < no_y);
}

static int
compare_runs(const void *a, const void *b)
{
	int64_t x = run_shot_at(a, 0).ns, y = run_shot_at(b, 0).ns;

	return (x > y) - (x < y);
}

/* Counts first, so that each list is made once. */
static int
fill(struct runs *runs, const struct populations *populations, struct error *error)
{
	for (size_t i = 0; i < populations->count; i++)
		if (populations->list[i].complete.count > 0)
			count_shots(runs, &populations->list[i]);
	for (size_t i = 0; i < runs->count; i++) {
		struct run *run = &runs->list[i];
		run->shots = calloc(run->count + 1, sizeof *run->shots);
		if (!run->shots)
			return error_set(error, ERROR_MEMORY, "out of memory");
		run->count = 0;
	}
	for (size_t i = 0; i < populations->count; i++) {
		const struct population *one = &populations->list[i];
		struct run *run = find_run(runs, one);
		for (size_t row = 0; run && row < one->complete.count; row++)
			run->shots[run->count++] = (struct run_shot){one, row};
	}
	return 0;
}

int
runs_make(struct runs *runs, const struct populations *populations, struct error *error)
{
	*runs = (struct runs){0};
	if (populations->count == 0)
		return 0;
	runs->list = calloc(populations->count, sizeof *runs->list);
	if (!runs->list)
		return error_set(error, ERROR_MEMORY, "out of memory");
	int code = fill(runs, populations, error);
	if (code != 0 || runs->count == 0)
		return code;
	for (size_t i = 0; i < runs->count; i++)
		qsort(runs->list[i].shots, runs->list[i].count,
		    sizeof *runs->list[i].shots, compare_shots);
	qsort(runs->list, runs->count, sizeof *runs->list, compare_runs);
	return 0;
}

void
runs_release(struct runs *runs)
{
	for (size_t i = 0; i < runs->count; i++)
		free(runs->list[i].shots);
	free(runs->list);
	*runs = (struct runs){0};
}

int64_t
run_shot_no(const struct run *run, size_t i)
{
	return run->shots[i].population->complete.list[run->shots[i].row];
}

struct wall
run_shot_at(const struct run *run, size_t i)
{
	return run->shots[i].population->filed_at[run->shots[i].row];
}

bool
run_lot_changes(const struct run *run, size_t i)
{
	return run->shots[i].population != run->shots[i - 1].population;
}

void
run_series(
    const struct run *run, int feature, bool by_lot, double *values, bool *breaks)
{
	for (size_t i = 0; i < run->count; i++) {
		const struct run_shot *shot = &run->shots[i];
		size_t width = shot->population->features->count;
		values[i] = shot->population
		                ->values[shot->row * width +
					 population_column(shot->population, feature)];
		breaks[i] = i == 0 ||
		            run_shot_no(run, i) != run_shot_no(run, i - 1) + 1 ||
		            (by_lot && run_lot_changes(run, i));
	}
}

struct run
run_tail(const struct run *run, size_t most)
{
	struct run tail = *run;

	if (tail.count > most) {
		tail.shots += tail.count - most;
		tail.count = most;
	}
	return tail;
}
