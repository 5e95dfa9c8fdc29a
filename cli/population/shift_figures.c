/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/shift_figures.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/population/judgement.h"
#include "cli/population/shift_known.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

/* The populations of a shift, judged. */
struct judging {
	const struct settings *settings;
	struct population_features features;
	struct populations all;
	struct runs runs;
	struct judgement **judgements; /* of the populations; NULL: no complete shot */
	struct shift_figures *figures;
};

static int
no_memory(struct error *error)
{
	return error_set(error, ERROR_MEMORY, "out of memory");
}

static int
judge(struct judging *judging, struct error *error)
{
	const struct populations *all = &judging->all;

	judging->judgements = calloc(all->count + 1, sizeof(void *));
	if (!judging->judgements)
		return no_memory(error);
	for (size_t i = 0; i < all->count; i++) {
		if (all->list[i].complete.count == 0)
			continue;
		judging->judgements[i] =
		    judgement_new(judging->settings, &all->list[i]);
		if (!judging->judgements[i])
			return no_memory(error);
	}
	return 0;
}

static void
release(struct judging *judging)
{
	for (size_t i = 0; judging->judgements && i < judging->all.count; i++)
		judgement_free(judging->judgements[i]);
	free(judging->judgements);
	runs_release(&judging->runs);
	populations_release(&judging->all);
}

/* --- a characteristic --------------------------------------------------------------------- */

/* One lot that is not says it of all; else one of which nobody knows. */
static void
add_stability(double *stable, enum stability_verdict verdict)
{
	switch (verdict) {
	case STABILITY_STABLE:
		break;
	case STABILITY_UNSTABLE:
		*stable = 0;
		break;
	case STABILITY_TOO_FEW:
	case STABILITY_NO_VARIATION:
	case STABILITY_NO_NEIGHBOURS:
		if (*stable > 0)
			*stable = NAN;
		break;
	}
}

static double
verdict_of(const struct study *study)
{
	switch (study->verdict) {
	case STUDY_CAPABLE:
		return 1;
	case STUDY_NOT_CAPABLE:
		return -1;
	case STUDY_NOT_ESTABLISHED:
		break;
	}
	return 0;
}

/* The indices of which any is to be told, and those within; false where a lot's is withheld:
 * of what is not known none is the lowest. */
struct quoted {
	const struct study *lowest; /* by its Ppk */
	bool overall, within;
};

static void
add_quoted(struct quoted *quoted, const struct study *lot)
{
	const struct study_shown shown = study_shown(lot);

	quoted->overall &= shown.quotable;
	quoted->within &= lot->cpk.quotable;
	if (!quoted->lowest || shown.index < study_shown(quoted->lowest).index)
		quoted->lowest = lot;
}

static void
put_indices(double *figure, const struct quoted *quoted)
{
	const struct study *study = quoted->lowest;

	if (!study || !quoted->overall)
		return;
	const struct study_shown shown = study_shown(study);
	if (quoted->within) {
		figure[LEDGER_SHIFT_CP] = study->cp;
		figure[LEDGER_SHIFT_CPK] = study->cpk.value;
		figure[LEDGER_SHIFT_CPK_LOW] = study->cpk.low;
		figure[LEDGER_SHIFT_CPK_HIGH] = study->cpk.high;
	}
	if (study->ppk.quotable)
		figure[LEDGER_SHIFT_PP] = study->pp;
	figure[LEDGER_SHIFT_PPK] = shown.index;
	figure[LEDGER_SHIFT_PPK_LOW] = shown.low;
	figure[LEDGER_SHIFT_PPK_HIGH] = shown.high;
}

/* The lots of a run one after the other: `at` is a place among all populations. */
static const struct judged *
next_lot(const struct judging *judging, const struct run *run, size_t place, size_t *at)
{
	const struct populations *all = &judging->all;

	while (*at < all->count) {
		size_t i = (*at)++;
		if (judging->judgements[i] &&
		    strcmp(all->list[i].recipe, run->recipe) == 0 &&
		    strcmp(all->list[i].tool, run->tool) == 0)
			return &judging->judgements[i]->limited[place];
	}
	return NULL;
}

static void
put_lots(
    const struct judging *judging, const struct run *run, size_t place, double *figure)
{
	struct quoted quoted = {.overall = true, .within = true};
	const struct judged *lot;
	size_t at = 0;

	figure[LEDGER_SHIFT_STABLE] = figure[LEDGER_SHIFT_VERDICT] = 1;
	figure[LEDGER_SHIFT_BEYOND] = 0;
	while ((lot = next_lot(judging, run, place, &at)) != NULL) {
		add_stability(
		    &figure[LEDGER_SHIFT_STABLE], lot->study->stability.verdict);
		figure[LEDGER_SHIFT_VERDICT] =
		    fmin(figure[LEDGER_SHIFT_VERDICT], verdict_of(lot->study));
		figure[LEDGER_SHIFT_BEYOND] += (double)(lot->c.below + lot->c.above);
		add_quoted(&quoted, lot->study);
		/* of all lots alike */
		figure[LEDGER_SHIFT_LOWER] = lot->lower;
		figure[LEDGER_SHIFT_UPPER] = lot->upper;
		figure[LEDGER_SHIFT_TARGET] = lot->target;
	}
	put_indices(figure, &quoted);
}

/* n, mean and sd, of one lot as its study has them, so that they are a report's to the last
 * digit; of several over all of them. */
static int
put_description(const struct judging *judging, const struct run *run, size_t place,
    double *figure, struct error *error)
{
	size_t at = 0;
	const struct judged *first = next_lot(judging, run, place, &at);
	struct capability c = first->c;

	if (run->lots > 1) {
		double *values = calloc(run->count + 1, sizeof *values);
		bool *breaks = calloc(run->count + 1, sizeof *breaks);
		bool made = values && breaks;
		if (made) {
			run_series(run, first->feature, true, values, breaks);
			c = capability_of(
			    &(struct series){values, breaks, run->count}, NAN, NAN);
		}
		free(values);
		free(breaks);
		if (!made)
			return no_memory(error);
	}
	figure[LEDGER_SHIFT_LOTS] = (double)run->lots;
	figure[LEDGER_SHIFT_N] = (double)c.n;
	figure[LEDGER_SHIFT_MEAN] = c.mean;
	figure[LEDGER_SHIFT_SD] = c.sd;
	return 0;
}

static struct ledger_shift_row *
add_row(struct shift_figures *figures)
{
	if (figures->count == figures->room) {
		size_t room = figures->room ? 2 * figures->room : 16;
		struct ledger_shift_row *rows =
		    reallocarray(figures->rows, room, sizeof *rows);
		if (!rows)
			return NULL;
		figures->rows = rows;
		figures->room = room;
	}
	return &figures->rows[figures->count++];
}

static int
put_characteristic(
    struct judging *judging, const struct run *run, size_t place, struct error *error)
{
	struct ledger_shift_row *row = add_row(judging->figures);
	double *sum = judging->figures->shift.sum;
	size_t at = 0;

	if (!row)
		return no_memory(error);
	text_copy(row->recipe, sizeof row->recipe, run->recipe);
	text_copy(row->tool, sizeof row->tool, run->tool);
	text_copy(row->characteristic, sizeof row->characteristic,
	    feature_get(next_lot(judging, run, place, &at)->feature)->name);
	for (int i = 0; i < LEDGER_SHIFT_FIGURES; i++)
		row->figure[i] = NAN;
	put_lots(judging, run, place, row->figure);
	double verdict = row->figure[LEDGER_SHIFT_VERDICT];
	sum[verdict > 0   ? LEDGER_SHIFT_CAPABLE
	    : verdict < 0 ? LEDGER_SHIFT_NOT_CAPABLE
			  : LEDGER_SHIFT_NOT_ESTABLISHED]++;
	return put_description(judging, run, place, row->figure, error);
}

static int
put_runs(struct judging *judging, struct error *error)
{
	int code = runs_make(&judging->runs, &judging->all, error);

	for (size_t i = 0; i < judging->runs.count && code == 0; i++) {
		const struct run *run = &judging->runs.list[i];
		size_t first = (size_t)(run->shots[0].population - judging->all.list);
		size_t limited = judging->judgements[first]->limited_count;
		for (size_t k = 0; k < limited && code == 0; k++)
			code = put_characteristic(judging, run, k, error);
	}
	return code;
}

/* --- the shift ------------------------------------------------------------------------------ */

/* Complete shots of which any figure lies beyond a limit. */
static int64_t
count_outside(const struct population *population, const struct judgement *judgement)
{
	int64_t count = 0;

	for (size_t row = 0; row < population->complete.count; row++) {
		bool outside = false;
		for (size_t i = 0; i < judgement->limited_count && !outside; i++) {
			const struct judged *judged = &judgement->limited[i];
			double value =
			    population->values[row * population->features->count +
					       population_column(
						   population, judged->feature)];
			outside = value < judged->lower || value > judged->upper;
		}
		count += outside;
	}
	return count;
}

static int
put_sums(struct judging *judging, struct error *error)
{
	const struct populations *all = &judging->all;
	double *sum = judging->figures->shift.sum;
	bool failed = false;

	sum[LEDGER_SHIFT_SHOTS] = (double)all->shots;
	for (int i = 0; i < SHOT_OUTCOME_COUNT; i++)
		sum[LEDGER_SHIFT_OUTCOME + i] = (double)all->by_outcome[i];
	for (size_t i = 0; i < all->count; i++)
		if (judging->judgements[i])
			sum[LEDGER_SHIFT_OUTSIDE] += (double)count_outside(
			    &all->list[i], judging->judgements[i]);
	sum[LEDGER_SHIFT_CYCLE_S] = shift_known_median(all, FEATURE_CYCLE_S, &failed);
	double metered = shift_known_sum(all, FEATURE_METER_KWH, &failed);
	sum[LEDGER_SHIFT_OVEN_KWH] =
	    shift_known_any(all, FEATURE_METER_KWH)
		? metered
		: shift_known_sum(all, FEATURE_ENERGY_KWH, &failed);
	sum[LEDGER_SHIFT_HEAT_REMOVED_KWH] =
	    shift_known_sum(all, FEATURE_HEAT_REMOVED_KWH, &failed);
	return failed ? no_memory(error) : 0;
}

static void
begin(struct shift_figures *figures, const struct settings *settings,
    const struct shift_figures_asked *asked)
{
	struct ledger_shift *shift = &figures->shift;

	*figures = (struct shift_figures){.count = 0};
	text_copy(shift->line, sizeof shift->line, asked->line);
	text_copy(shift->shift, sizeof shift->shift, asked->shift);
	text_copy(shift->setup, sizeof shift->setup, settings->hash);
	shift->from = asked->from;
	shift->to = asked->to;
	shift->sum[LEDGER_SHIFT_LENGTH_S] =
	    (double)(asked->to.ns - asked->from.ns) / (double)CLOCK_SECOND_NS;
	shift->sum[LEDGER_SHIFT_GAP_S] = shift->sum[LEDGER_SHIFT_FINDINGS] = NAN;
}

int
shift_figures_make(struct shift_figures *figures, const struct settings *settings,
    struct source *source, const struct shift_figures_asked *asked, struct error *error)
{
	struct judging judging = {.settings = settings, .figures = figures};
	const struct population_asked shots = {
	    asked->line, asked->from, asked->to, &judging.features};

	begin(figures, settings, asked);
	judgement_features(settings, &judging.features);
	population_features_add(&judging.features, FEATURE_CYCLE_S);
	population_features_add(&judging.features, FEATURE_METER_KWH);
	population_features_add(&judging.features, FEATURE_ENERGY_KWH);
	population_features_add(&judging.features, FEATURE_HEAT_REMOVED_KWH);
	int code = populations_read(&judging.all, source, &shots, error);
	if (code == 0)
		code = judge(&judging, error);
	if (code == 0)
		code = put_runs(&judging, error);
	if (code == 0)
		code = put_sums(&judging, error);
	figures->shift.rows = figures->rows;
	figures->shift.row_count = figures->count;
	release(&judging);
	return code;
}

void
shift_figures_release(struct shift_figures *figures)
{
	free(figures->rows);
	*figures = (struct shift_figures){.count = 0};
}
