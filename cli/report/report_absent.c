/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_absent.h"

#include <stdlib.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "cli/wording/shown_numbers.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum {
	NAMES_BYTES = 4096,
	LISTED = FEATURE_COUNT + JUDGEMENT_USUAL, /* features of a judgement at most */
};

/* Which shots lack a feature for one reason. */
static struct numbers
find_shots(const struct population *population, int feature, enum absent why)
{
	size_t column = population_column(population, feature),
	       width = population->features->count;
	struct numbers which = {0};

	for (size_t i = 0; i < population->complete.count; i++)
		if (population->absent[i * width + column] == why)
			numbers_add(&which, population->complete.list[i]);
	return which;
}

static bool
are_same(const struct numbers *a, const struct numbers *b)
{
	return a->count == b->count &&
	       memcmp(a->list, b->list, a->count * sizeof *a->list) == 0;
}

static void
put_row(const struct report_part *part, const char *names, enum absent why,
    const struct numbers *which)
{
	struct shown_numbers numbers;

	const struct cell cells[] = {
	    cell_words(names),
	    shown_name(part->population->lot),
	    cell_words(absent_text(why)),
	    cell_count((int64_t)which->count),
	    shown_numbers_cell(part->page, which, &numbers),
	    cell_words(names),
	};
	page_row(part->page, cells);
	shown_numbers_release(&numbers);
}

/* What people are spared: few absent values of a feature without limits. */
static bool
is_much(const struct judged *judged)
{
	const struct capability *c = &judged->c;

	return c->missing * 100 > (c->n + c->missing) * CAPABILITY_MISSING_PERCENT;
}

/* The features of a population of which any value is absent, and for people much or of what has
 * limits. */
static size_t
list_features(
    const struct judgement *judgement, bool people, int features[static LISTED])
{
	size_t count = 0;

	for (size_t i = 0; i < judgement->limited_count; i++)
		if (judgement->limited[i].c.missing > 0)
			features[count++] = judgement->limited[i].feature;
	for (size_t i = 0; i < judgement->usual_count; i++)
		if (judgement->usual[i].c.missing > 0 &&
		    (!people || is_much(&judgement->usual[i])))
			features[count++] = judgement->usual[i].feature;
	return count;
}

static void
put_each(const struct report_part *part)
{
	int features[LISTED];
	size_t count = list_features(part->judgement, false, features);

	for (size_t i = 0; i < count; i++)
		for (int why = ABSENT_STALE; why <= ABSENT_NOT_CONFIGURED; why++) {
			struct numbers which =
			    find_shots(part->population, features[i], (enum absent)why);
			if (which.count > 0)
				put_row(part, feature_get(features[i])->name,
				    (enum absent)why, &which);
			free(which.list);
		}
}

/* Those that lack the same shots as features[at] for the same reason, told at once. */
static void
put_alike(const struct report_part *part, const int *features, size_t count,
    struct numbers *which, enum absent why)
{
	for (size_t i = 0; i < count; i++) {
		struct text names;
		if (which[i].count == 0)
			continue;
		text_init(&names, NAMES_BYTES);
		text_puts(&names, feature_get(features[i])->name);
		for (size_t k = i + 1; k < count; k++)
			if (are_same(&which[i], &which[k])) {
				text_printf(
				    &names, ", %s", feature_get(features[k])->name);
				which[k].count = 0;
			}
		put_row(part, names.bytes, why, &which[i]);
		text_release(&names);
	}
}

static void
put_folded(const struct report_part *part)
{
	int features[LISTED];
	size_t count = list_features(part->judgement, true, features);

	for (int why = ABSENT_STALE; why <= ABSENT_NOT_CONFIGURED; why++) {
		struct numbers which[LISTED] = {{0}};
		for (size_t i = 0; i < count; i++)
			which[i] =
			    find_shots(part->population, features[i], (enum absent)why);
		put_alike(part, features, count, which, (enum absent)why);
		for (size_t i = 0; i < count; i++)
			free(which[i].list);
	}
}

void
report_absent_put(const struct report_parts *parts)
{
	const struct column columns[] = {
	    {"feature", NULL, 0}, {NULL, parts->count > 1 ? "lot" : NULL, 0},
	    {"reason", "reason", 0}, {"shots", "shots", 0}, {"shot_nos", "numbers", 0},
	    {NULL, "features", 0}, /* people: last, where there is room for many */
	};

	page_table(parts->page, "absent",
	    "Absent values of what has limits, or lacks many", columns, COUNT(columns));
	for (size_t i = 0; i < parts->count; i++) {
		if (parts->people)
			put_folded(&parts->list[i]);
		else
			put_each(&parts->list[i]);
	}
	page_table_end(parts->page);
}
