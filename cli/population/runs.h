/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The complete shots of one recipe and tool in the order of time, over their lots: what a
 * picture shows and what is compared between lots.  One thread.
 */
#ifndef CLI_POPULATION_RUNS_H
#define CLI_POPULATION_RUNS_H

#include "cli/population/population.h"

struct run_shot {
	const struct population *population;
	size_t row; /* of its values */
};

struct run {
	char recipe[LEDGER_NAME], tool[LEDGER_NAME];
	struct run_shot *shots;
	size_t count;
	size_t lots; /* populations that have complete shots */
};

struct runs {
	struct run *list; /* by their first shots */
	size_t count;
};

/* Of populations that are lent meanwhile; runs without a complete shot are left out.  0, or
 * ERROR_MEMORY; release in either case. */
int runs_make(
    struct runs *runs, const struct populations *populations, struct error *error);
void runs_release(struct runs *runs);

int64_t run_shot_no(const struct run *run, size_t i);
struct wall run_shot_at(const struct run *run, size_t i);

/* Whether shot i is of another lot or material than shot i - 1; i >= 1. */
bool run_lot_changes(const struct run *run, size_t i);

/* One feature as a series: room for run->count.  A break stands where something between two
 * shots was left out, and with `by_lot` where the lot changes. */
void run_series(
    const struct run *run, int feature, bool by_lot, double *values, bool *breaks);

/* The same shots without all but the last `most`. */
struct run run_tail(const struct run *run, size_t most);

#endif
