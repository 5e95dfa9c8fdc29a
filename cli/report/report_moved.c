/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_moved.h"

#include <math.h>
#include <stdlib.h>

#include "cli/population/kin.h"
#include "cli/stats/association.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define P_MOST 0.01 /* of what is told: every candidate counted */

enum {
	TOLD = 4,  /* of a characteristic */
	KEPT = 32, /* so that one that tells the same as a better one pushes none out */
};

/* From shot to shot, and slower than the scatter of single shots lets see there. */
static const size_t strides[] = {1, 8};

struct moved {
	int feature;
	size_t stride;
	struct association of;
};

/* --- which ----------------------------------------------------------------------------- */

/* Whether it was not stable in any lot. */
static bool
is_unstable(const struct report_line *line, const struct run *run, size_t place)
{
	for (size_t i = 0; i < line->all->count; i++) {
		const struct population *one = &line->all->list[i];
		if (report_line_is_of(run, one) &&
		    report_line_judgement(line, one)
			    ->limited[place]
			    .study->stability.verdict == STABILITY_UNSTABLE)
			return true;
	}
	return false;
}

bool
report_moved_is_asked(const struct report_line *line, const struct run *run)
{
	for (size_t place = 0; place < report_line_limited(line, run); place++)
		if (is_unstable(line, run, place))
			return true;
	return false;
}

static bool
is_candidate(int quantity, int input)
{
	return kin_is_input(input) && !kin_are(quantity, input);
}

static size_t
count_candidates(const struct population_features *features, int quantity)
{
	size_t count = 0;

	for (size_t i = 0; i < features->count; i++)
		count += is_candidate(quantity, features->list[i]);
	return count;
}

/* --- ranking ---------------------------------------------------------------------------- */

struct looking {
	const struct run *wide;
	double *quantity, *input;
	bool *breaks, *unused;
	struct moved best[KEPT];
	size_t count;
};

/* Its better stride. */
static struct moved
look_at(const struct looking *looking, int input, size_t candidates)
{
	struct moved moved = {.feature = input, .of.explained = NAN};
	const size_t count = looking->wide->count;

	run_series(looking->wide, input, false, looking->input, looking->unused);
	for (size_t i = 0; i < COUNT(strides); i++) {
		/* over a shot that was left out a short step is none */
		const struct series quantity = {looking->quantity,
					strides[i] == 1 ? looking->breaks : NULL,
					count},
				    other = {looking->input, NULL, count};
		struct association of = association_of(
		    &quantity, &other, strides[i], candidates * COUNT(strides));
		if (of.p <= P_MOST && !(of.explained <= moved.of.explained)) {
			moved.stride = strides[i];
			moved.of = of;
		}
	}
	return moved;
}

static void
take_out(struct looking *looking, size_t at)
{
	looking->count--;
	for (size_t i = at; i < looking->count; i++)
		looking->best[i] = looking->best[i + 1];
}

/* Of those that tell the same the best alone. */
static void
keep(struct looking *looking, const struct moved *moved)
{
	for (size_t i = looking->count; i-- > 0;) {
		const struct moved *other = &looking->best[i];
		if (!kin_tell_the_same(other->feature, moved->feature))
			continue;
		if (other->of.explained >= moved->of.explained)
			return;
		take_out(looking, i);
	}
	size_t at = looking->count;
	while (at > 0 && looking->best[at - 1].of.explained < moved->of.explained)
		at--;
	if (at == KEPT)
		return;
	if (looking->count < KEPT)
		looking->count++;
	for (size_t i = looking->count - 1; i > at; i--)
		looking->best[i] = looking->best[i - 1];
	looking->best[at] = *moved;
}

static void
rank(struct looking *looking, int quantity)
{
	const struct population_features *features =
	    looking->wide->shots[0].population->features;
	size_t candidates = count_candidates(features, quantity);

	looking->count = 0;
	run_series(looking->wide, quantity, false, looking->quantity, looking->breaks);
	for (size_t i = 0; i < features->count; i++) {
		if (!is_candidate(quantity, features->list[i]))
			continue;
		struct moved moved = look_at(looking, features->list[i], candidates);
		if (isfinite(moved.of.explained))
			keep(looking, &moved);
	}
}

/* --- telling ------------------------------------------------------------------------------ */

static void
put_rows(const struct report_line *line, const struct looking *looking, int quantity)
{
	for (size_t i = 0; i < looking->count && i < TOLD; i++) {
		const struct moved *moved = &looking->best[i];
		const struct cell cells[] = {
		    cell_words(feature_get(quantity)->name),
		    cell_words(feature_get(moved->feature)->name),
		    cell_number(moved->of.explained, 2),
		    cell_shown(moved->of.explained, 100 * moved->of.explained, 0),
		    cell_words(moved->of.slope < 0 ? "against it" : "with it"),
		    cell_number(moved->of.slope, 4),
		    cell_count((int64_t)moved->stride),
		    cell_count((int64_t)moved->of.pairs),
		    cell_number(moved->of.p, 4),
		};
		page_row(line->page, cells);
	}
}

static void
put_table(const struct report_line *line, const struct run *run,
    struct looking *looking, size_t *rows, size_t *alone)
{
	static const struct column columns[] = {
	    {"characteristic", "characteristic", 0},
	    {"input", "moved with it", 0},
	    {"explained", NULL, 0},
	    {NULL, "% explained", 0},
	    {NULL, "which way", 0},
	    {"slope", NULL, 0},
	    {"stride", "over shots", 0},
	    {"pairs", NULL, 0},
	    {"p", NULL, 0},
	};
	size_t limited = report_line_limited(line, run);

	page_table(
	    line->page, "moved_with", "What moved together", columns, COUNT(columns));
	for (size_t place = 0; place < limited; place++) {
		int quantity = report_line_judgement(line, run->shots[0].population)
		                   ->limited[place]
		                   .feature;
		if (!is_unstable(line, run, place))
			continue;
		rank(looking, quantity);
		put_rows(line, looking, quantity);
		*alone += looking->count == 0;
		*rows += looking->count;
	}
	page_table_end(line->page);
}

static void
put_words(const struct report_line *line, const struct run *run, const struct run *wide,
    size_t rows, size_t alone)
{
	if (alone > 0)
		page_note(line->page, NULL, TONE_PLAIN,
		    "With %zu characteristic%s that %s not stable no other figure "
		    "moved "
		    "beyond chance.",
		    alone, alone == 1 ? "" : "s", alone == 1 ? "was" : "were");
	if (rows > 0)
		page_note(line->page, NULL, TONE_FAINT,
		    "Moved together is no cause: of the changes from shot to shot, or "
		    "over "
		    "eight "
		    "shots, the share of the variance that goes along with the changes "
		    "of the "
		    "other figure. Figures of the same sensors or times are not "
		    "compared%s.",
		    wide->count < run->count ? "; only the last shots were looked at"
					     : "");
}

int
report_moved_put(const struct report_line *line, const struct run *run,
    const struct run *wide, struct error *error)
{
	size_t rows = 0, alone = 0, count = wide->count;

	if (count == 0 || !report_moved_is_asked(line, run))
		return 0;
	struct looking looking = {
	    .wide = wide,
	    .quantity = calloc(count, sizeof *looking.quantity),
	    .input = calloc(count, sizeof *looking.input),
	    .breaks = calloc(count, sizeof *looking.breaks),
	    .unused = calloc(count, sizeof *looking.unused),
	};
	bool made =
	    looking.quantity && looking.input && looking.breaks && looking.unused;
	if (made) {
		put_table(line, run, &looking, &rows, &alone);
		put_words(line, run, wide, rows, alone);
	}
	free(looking.quantity);
	free(looking.input);
	free(looking.breaks);
	free(looking.unused);
	return made ? 0 : error_set(error, ERROR_MEMORY, "out of memory");
}
