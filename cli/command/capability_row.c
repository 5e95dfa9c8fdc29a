/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_put.h"

#include "cli/wording/study_words.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

const char *
capability_verdict_name(enum study_verdict verdict)
{
	switch (verdict) {
	case STUDY_CAPABLE:
		return "capable";
	case STUDY_NOT_CAPABLE:
		return "not-capable";
	case STUDY_NOT_ESTABLISHED:
		return "not-established";
	}
	return "";
}

void
capability_put_row(struct page *page, const struct capability_view *view)
{
	const struct study *study = view->study;
	const struct description *d = &study->described;
	const struct study_shown shown = study_shown(study);
	const struct {
		const char *key;
		struct cell cell;
	} parts[] = {
	    {"column", cell_words(view->title)},
	    {"source", cell_words(view->source)},
	    {"verdict", cell_words(capability_verdict_name(study->verdict))},
	    {"n", cell_count((int64_t)d->n)},
	    {"missing", cell_count((int64_t)d->missing)},
	    {"min", cell_number(d->min, 0)},
	    {"max", cell_number(d->max, 0)},
	    {"mean", cell_number(d->mean, 0)},
	    {"sd", cell_number(d->sd, 0)},
	    {"median", cell_number(d->median, 0)},
	    {"sigma_within", cell_number(study->sigma_within, 0)},
	    {"lower", cell_number(study->lower, 0)},
	    {"upper", cell_number(study->upper, 0)},
	    {"pp", cell_number(study->pp, 0)},
	    {"ppl", cell_number(study->ppl, 0)},
	    {"ppu", cell_number(study->ppu, 0)},
	    {"ppk", cell_number(study->ppk.value, 0)},
	    {"ppk_low", cell_number(study->ppk.low, 0)},
	    {"ppk_high", cell_number(study->ppk.high, 0)},
	    {"ppk_lower_bound", cell_number(study->ppk.lower_bound, 0)},
	    {"cp", cell_number(study->cp, 0)},
	    {"cpk", cell_number(study->cpk.value, 0)},
	    {"cpk_quotable", cell_truth(study->cpk.quotable)},
	    {"cpm", cell_number(study->cpm, 0)},
	    {"lag1", cell_number(study->c.lag1, 0)},
	    {"stability",
		cell_words(study_words_stability_name(study->stability.verdict))},
	    {"normality_p", cell_number(study->normality.p, 0)},
	    {"expected_ppm_below", cell_number(study->expected_below * 1e6, 0)},
	    {"expected_ppm_above", cell_number(study->expected_above * 1e6, 0)},
	    {"observed_below", cell_count((int64_t)study->observed_below)},
	    {"observed_above", cell_count((int64_t)study->observed_above)},
	    {"judged_index", cell_number(shown.index, 0)},
	    {"judged_lower_bound", cell_number(shown.least, 0)},
	    {"judged_upper_bound", cell_number(shown.most, 0)},
	};
	struct column columns[COUNT(parts)];
	struct cell cells[COUNT(parts)];

	for (size_t i = 0; i < COUNT(parts); i++) {
		columns[i] = (struct column){.key = parts[i].key};
		cells[i] = parts[i].cell;
	}
	page_table(page, CAPABILITY_CSV, NULL, columns, COUNT(parts));
	page_row(page, cells);
	page_table_end(page);
}
