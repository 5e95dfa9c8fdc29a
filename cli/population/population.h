/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The shots of a span, sorted into what may be judged together: one recipe, tool, lot
 * and material.  Complete shots keep their figures for the statistics; the others
 * are counted by outcome and reason.
 */
#ifndef CLI_POPULATION_POPULATION_H
#define CLI_POPULATION_POPULATION_H

#include "cli/population/lacking.h"
#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;
struct source;
struct text;

/* Shot numbers, growing. */
struct numbers {
	int64_t *list;
	size_t count, room;
};

/* The features that are kept of a shot. */
struct population_features {
	int list[FEATURE_COUNT];
	size_t count;
};

struct population {
	char recipe[LEDGER_NAME], tool[LEDGER_NAME], lot[LEDGER_NAME],
	    material[LEDGER_NAME];
	int64_t shots; /* of any outcome */
	struct wall first, last;

	/* The complete ones, in the order of time: rows of a column for each feature. */
	const struct population_features *features; /* lent */
	struct numbers complete;
	struct wall *filed_at; /* of each */
	double *values;
	unsigned char *absent;
	size_t room;
	double uncertainty_s; /* mean of theirs: what polling leaves of a duration */
};

/* Shots that the statistics leave out, for one reason. */
struct left_out {
	enum shot_outcome outcome;
	char reason[128];  /* numbers that differ from shot to shot stand as N */
	char general[128]; /* the same with every number as N */
	struct numbers shots;
};

/* Shots made under one set-up. */
struct setup_use {
	int64_t setup, shots;
};

struct populations {
	const struct population_features *features; /* lent */
	struct population *list;
	size_t count;
	struct left_out *left_out;
	size_t left_out_count;
	struct setup_use *setups;
	size_t setup_count;
	int64_t shots, by_outcome[SHOT_OUTCOME_COUNT];
	const struct population_chosen *chosen; /* while they are read */
	int64_t others;                         /* shots that were not asked about */
	struct lacking missing;                 /* of all */
	bool failed;                            /* memory was short: incomplete */
};

/* Adds one, once. */
void population_features_add(struct population_features *features, int feature);

struct population_asked {
	const char *line;
	struct wall from, to;                       /* ns 0: open */
	const struct population_features *features; /* lent until the release */
};
/* Reads those shots.  0, or the error; release in either case. */
int populations_read(struct populations *populations, struct source *source,
    const struct population_asked *asked, struct error *error);

/* The same of these alone. */
struct population_chosen {
	const char *recipe, *tool, *lot; /* NULL: any */
};
int populations_read_chosen(struct populations *populations, struct source *source,
    const struct population_asked *asked, const struct population_chosen *chosen,
    struct error *error);
void populations_release(struct populations *populations);

/* Where a feature that is kept is in each row of values and absent. */
size_t population_column(const struct population *population, int feature);

/*
 * One feature of the complete shots as a series: `values` and `breaks` have room for
 * population->complete.count.  A break stands where a shot of the line between two was
 * left out or belongs to another population.
 */
void population_series(
    const struct population *population, int feature, double *values, bool *breaks);

/* A recipe as a number; -1 when it is unknown: "". */
int population_recipe(const char *recipe);

/* False when memory is short.  free(numbers->list) when done. */
bool numbers_add(struct numbers *numbers, int64_t number);

/* Adds "3, 7-9, 12". */
void numbers_text(const struct numbers *numbers, struct text *text);

#endif
