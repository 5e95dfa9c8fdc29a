/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_put.h"

#include <math.h>
#include <stdlib.h>

#include "cli/stats/chart_constants.h"
#include "cli/wording/study_words.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static void
put(struct page *page, const char *key, double number)
{
	page_field(page, key, NULL, cell_number(number, 0));
}

static void
put_count(struct page *page, const char *key, size_t count)
{
	page_field(page, key, NULL, cell_count((int64_t)count));
}

/* A slot, from 1; 0 is none. */
static void
put_slot(struct page *page, const char *key, size_t slot)
{
	page_field(
	    page, key, NULL, slot ? cell_count((int64_t)slot) : cell_absent(NULL));
}

/* An array of slots. */
static void
put_slots(struct page *page, const char *key, const size_t *slots, size_t count)
{
	struct cell *cells = malloc((count + 1) * sizeof *cells);

	if (!cells) {
		page_fail(page);
		return;
	}
	for (size_t i = 0; i < count; i++)
		cells[i] = cell_count((int64_t)slots[i]);
	page_list(page, key, NULL, cells, count);
	free(cells);
}

/* Each reason of the set: a sentence. */
static void
put_reasons(struct page *page, const struct study *study, unsigned reasons)
{
	char words[STUDY_REASON_COUNT][STUDY_REASON_WORDS];
	struct cell sentences[STUDY_REASON_COUNT], names[STUDY_REASON_COUNT];
	size_t count = 0;

	for (int i = 0; i < STUDY_REASON_COUNT; i++) {
		if (!(reasons & STUDY_BIT(i)))
			continue;
		study_words_reason(study, (enum study_reason)i, words[count]);
		sentences[count] = cell_words(words[count]);
		names[count++] =
		    cell_words(study_words_reason_name((enum study_reason)i));
	}
	page_list(page, "reasons", NULL, sentences, count);
	page_list(page, "reason_names", NULL, names, count);
}

static void
put_description(struct page *page, const struct study *study)
{
	const struct description *d = &study->described;
	const struct moving_ranges *moving = &study->moving;

	put_count(page, "n", d->n);
	put_count(page, "missing", d->missing);
	put(page, "min", d->min);
	put(page, "max", d->max);
	put(page, "mean", d->mean);
	put(page, "sd", d->sd);
	put(page, "median", d->median);
	put_count(page, "distinct", d->distinct);
	put(page, "step", study->step);
	put(page, "rounding", study->rounding);
	page_open(page, GROUP_OBJECT, "moving_range", NULL);
	put_count(page, "count", moving->count);
	put(page, "mean", moving->mean);
	put(page, "median", moving->median);
	put(page, "max", moving->max);
	put(page, "upper_limit", moving->mean * chart_constants(2).D4);
	page_close(page);
}

static void
put_sigma_within(struct page *page, const struct capability_view *view)
{
	static const char *const methods[] = {
	    [STUDY_INDIVIDUALS] = "mean-moving-range",
	    [STUDY_MEAN_RANGE] = "mean-range",
	    [STUDY_MEAN_SD] = "pooled-sd",
	};
	const struct study *study = view->study;

	page_open(page, GROUP_OBJECT, "sigma_within", NULL);
	put(page, "value", study->sigma_within);
	page_field(page, "method", NULL, cell_words(methods[view->asked->method]));
	put(page, "from_median_range", study->moving.sigma_from_median);
	put(page, "degrees_of_freedom", study->within_df);
	page_close(page);
	page_open(page, GROUP_OBJECT, "autocorrelation", NULL);
	put(page, "lag1", study->c.lag1);
	put(page, "bound", study->c.lag1_bound);
	/* that decide: by the pairs that there are */
	put(page, "lag1_of_pairs", study->c.r1);
	put(page, "bound_of_pairs", study->c.r1_bound);
	put(page, "n_effective", study->c.n_effective);
	page_close(page);
}

static void
put_limits(struct page *page, const char *key, const struct control_limits *limits)
{
	page_open(page, GROUP_OBJECT, key, NULL);
	put(page, "low", limits->low);
	put(page, "centre", limits->centre);
	put(page, "high", limits->high);
	page_close(page);
}

static void
put_both_sided(
    struct page *page, const char *key, double value, const struct interval *interval)
{
	page_open(page, GROUP_OBJECT, key, NULL);
	put(page, "value", value);
	put(page, "low", interval->low);
	put(page, "high", interval->high);
	page_close(page);
}

static void
put_index(struct page *page, const char *key, const struct study *study,
    const struct study_index *index)
{
	page_open(page, GROUP_OBJECT, key, NULL);
	put(page, "value", index->value);
	put(page, "low", index->low);
	put(page, "high", index->high);
	put(page, "lower_bound", index->lower_bound);
	put(page, "upper_bound", index->upper_bound);
	page_field(page, "quotable", NULL, cell_truth(index->quotable));
	put_reasons(page, study, index->reasons);
	page_close(page);
}

static void
put_indices(struct page *page, const struct study *study)
{
	page_open(page, GROUP_OBJECT, "limits", NULL);
	put(page, "lower", study->lower);
	put(page, "upper", study->upper);
	put(page, "target", study->target);
	page_close(page);
	put(page, "required", study->required);
	page_field(page, "zero_bounded", NULL, cell_truth(study->zero_bounded));
	put_both_sided(page, "pp", study->pp, &study->pp_95);
	put(page, "ppl", study->ppl);
	put(page, "ppu", study->ppu);
	put_index(page, "ppk", study, &study->ppk);
	put_both_sided(page, "cp", study->cp, &study->cp_95);
	put(page, "cpl", study->cpl);
	put(page, "cpu", study->cpu);
	put_index(page, "cpk", study, &study->cpk);
	put(page, "cpm", study->cpm);
}

/* What the verdict rests on: Ppk, or the index of the fit. */
static void
put_judged(struct page *page, const struct study *study)
{
	const struct study_shown shown = study_shown(study);

	page_open(page, GROUP_OBJECT, "judged", NULL);
	put(page, "index", shown.index);
	put(page, "lower_bound", shown.least);
	put(page, "upper_bound", shown.most);
	page_field(page, "by_percentiles", NULL, cell_truth(shown.by_fit));
	page_close(page);
}

/* --- the distribution ------------------------------------------------------------------- */

static void
put_fit(struct page *page, const struct fit *fit)
{
	const struct family_traits *traits = &family_table[fit->family];

	page_field(page, "distribution", NULL, cell_words(traits->name));
	page_open(page, GROUP_OBJECT, "parameters", NULL);
	for (int i = 0; i < traits->parameter_count; i++)
		put(page, traits->parameter[i], fit->parameters[i]);
	page_close(page);
	put(page, "log_likelihood", fit->log_likelihood);
	put(page, "x00135", fit->quantiles.x00135);
	put(page, "x50", fit->quantiles.x50);
	put(page, "x99865", fit->quantiles.x99865);
	put(page, "pp", fit->index.pp);
	put(page, "ppl", fit->index.ppl);
	put(page, "ppu", fit->index.ppu);
	put(page, "p", fit->p);
}

static void
put_distribution(struct page *page, const struct study *study)
{
	struct fit used = study_distribution(study);

	page_open(page, GROUP_OBJECT, "normality", NULL);
	put(page, "a2", study->normality.a2);
	put(page, "a2_adjusted", study->normality.a2_adjusted);
	put(page, "p", study->normality.p);
	page_close(page);
	page_open(page, GROUP_OBJECT, "quantiles", NULL);
	put(page, "x00135", study->quantiles.x00135);
	put(page, "x50", study->quantiles.x50);
	put(page, "x99865", study->quantiles.x99865);
	page_close(page);
	if (study_words_distribution(study) && isfinite(used.parameters[0])) {
		page_open(page, GROUP_OBJECT, "fit", NULL);
		put_fit(page, &used);
		page_close(page);
	} else {
		page_field(page, "fit", NULL, cell_absent(NULL));
	}
	page_open(page, GROUP_LIST, "fits", NULL);
	for (size_t i = 0; i < study->fits.count; i++) {
		page_open(page, GROUP_ITEM, NULL, NULL);
		put_fit(page, &study->fits.list[i]);
		page_close(page);
	}
	page_close(page);
	page_open(page, GROUP_OBJECT, "expected_ppm", NULL);
	put(page, "below", study->expected_below * 1e6);
	put(page, "above", study->expected_above * 1e6);
	page_close(page);
	if (isnan(study->lower) && isnan(study->upper))
		put(page, "observed_beyond", NAN);
	else
		put_count(page, "observed_beyond",
		    study->observed_below + study->observed_above);
	page_open(page, GROUP_OBJECT, "observed", NULL);
	put_count(page, "below", study->observed_below);
	put_count(page, "above", study->observed_above);
	put(page, "ppm_most", study->observed_most * 1e6);
	page_close(page);
	put_count(page, "outliers", study->outliers);
	put(page, "ppk_without_outliers", study->ppk_without_outliers);
}

/* --- the course of time ------------------------------------------------------------------- */

static void
put_signals(struct page *page, const struct study *study)
{
	static const struct column columns[] = {{"rule", NULL, 0}, {"index", NULL, 0}};
	const struct signals *signals = &study->signals;

	page_table(page, "signals", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < signals->count; i++) {
		const struct cell cells[] = {
		    cell_words(run_rule_name(signals->list[i].rule)),
		    cell_count((int64_t)signals->list[i].slot),
		};
		page_row(page, cells);
	}
	page_table_end(page);
	put(page, "signals_chance", study->signals_chance);
}

static void
put_memory_charts(struct page *page, const struct study *study)
{
	const struct ewma *ewma = &study->ewma;
	const struct cusum *cusum = &study->cusum;

	put(page, "centre", study->centre);
	put(page, "sigma", study->sigma);
	page_open(page, GROUP_OBJECT, "ewma", NULL);
	put(page, "last", ewma->last);
	put(page, "max", ewma->max);
	put(page, "low", ewma->low);
	put(page, "high", ewma->high);
	put_slots(page, "signals", study->ewma_signals, ewma->signal_count);
	page_close(page);
	page_open(page, GROUP_OBJECT, "cusum", NULL);
	put(page, "high_last", cusum->high_last);
	put(page, "high_max", cusum->high_max);
	put(page, "low_last", cusum->low_last);
	put(page, "low_max", cusum->low_max);
	put_slots(page, "signals", study->cusum_signals, cusum->signal_count);
	page_close(page);
}

static void
put_subgroups(struct page *page, const struct study *study)
{
	const struct subgroups *groups = &study->subgroups;

	page_open(page, GROUP_OBJECT, "subgroups", NULL);
	put_count(page, "size", groups->size);
	put_count(page, "count", groups->count);
	put_count(page, "left_out", groups->left_out);
	put(page, "grand_mean", groups->grand_mean);
	put(page, "mean_range", groups->mean_range);
	put(page, "mean_sd", groups->mean_sd);
	put(page, "pooled_sd", groups->pooled_sd);
	put(page, "sigma_range", groups->sigma_range);
	put(page, "sigma_sd", groups->sigma_sd);
	put(page, "sigma_pooled", groups->sigma_pooled);
	page_open(page, GROUP_OBJECT, "limits", NULL);
	put_limits(page, "mean_by_range", &groups->mean_by_range);
	put_limits(page, "range", &groups->range);
	put_limits(page, "mean_by_sd", &groups->mean_by_sd);
	put_limits(page, "sd", &groups->sd);
	page_close(page);
	page_close(page);
	put_limits(page, "individuals", &study->individuals);
}

static void
put_stability(struct page *page, const struct study *study)
{
	static const char *const kinds[] = {
	    [ONSET_STEP] = "step",
	    [ONSET_DRIFT] = "drift",
	    [ONSET_SCATTER] = "scatter",
	    [ONSET_SINGLE] = "single",
	};
	const struct stability *stability = &study->stability;
	const struct onset *onset = &study->onset;
	bool begun = onset->kind != ONSET_NONE;
	bool judged = stability->verdict == STABILITY_STABLE ||
	              stability->verdict == STABILITY_UNSTABLE;

	page_open(page, GROUP_OBJECT, "stability", NULL);
	page_field(page, "verdict", NULL,
	    cell_words(study_words_stability_name(stability->verdict)));
	put(page, "k", judged ? stability->limits.k : NAN);
	put(page, "r", judged ? (double)stability->limits.r : NAN);
	put(page, "l", judged ? stability->limits.L : NAN);
	put(page, "c", judged ? stability->limits.c : NAN);
	put_slot(page, "beyond", stability->beyond);
	put_slot(page, "run", stability->run);
	put_slot(page, "ewma", stability->ewma);
	put_slot(page, "scatter", stability->scatter);
	page_close(page);
	page_open(page, GROUP_OBJECT, "change", NULL);
	page_field(page, "kind", NULL, cell_words(kinds[onset->kind]));
	put_slot(page, "index", onset->slot);
	put_slot(page, "least", onset->least);
	put_slot(page, "most", onset->most);
	put(page, "before", begun ? onset->before : NAN);
	put(page, "after", begun ? onset->after : NAN);
	put(page, "explained", begun ? onset->explained : NAN);
	page_close(page);
}

void
capability_put_machines(struct page *page, const struct capability_view *view)
{
	const struct study *study = view->study;

	page_field(page, "column", NULL, cell_words(view->title));
	page_field(page, "source", NULL, cell_words(view->source));
	put_count(page, "shots_left_out", view->left_out);
	page_field(
	    page, "verdict", NULL, cell_words(capability_verdict_name(study->verdict)));
	put_reasons(page, study, study->reasons);
	put_description(page, study);
	put_sigma_within(page, view);
	put_indices(page, study);
	put_judged(page, study);
	put_distribution(page, study);
	put_stability(page, study);
	put_signals(page, study);
	put_memory_charts(page, study);
	put_subgroups(page, study);
}
