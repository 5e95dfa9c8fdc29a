/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/wording/verdict.h"

#include <math.h>
#include <stdio.h>

struct cell
verdict_cell(double value, struct interval interval, const struct study_index *index,
    char figure[static VERDICT_FIGURE])
{
	struct cell cell = cell_number(value, 2);

	if (!isfinite(value))
		return cell_absent(NULL);
	cell.instead = figure;
	if (index->reasons & STUDY_BIT(STUDY_ZERO_BOUNDED)) {
		snprintf(figure, VERDICT_FIGURE, "-"); /* there is no such index */
	} else if (!index->quotable) {
		snprintf(figure, VERDICT_FIGURE,
		    index->reasons & STUDY_BIT(STUDY_TOO_FEW) ? "too few" : "withheld");
		cell.tone = TONE_FAINT;
	} else if (isnan(interval.low)) {
		snprintf(figure, VERDICT_FIGURE, "%.2f (too dependent)", value);
	} else {
		snprintf(figure, VERDICT_FIGURE, "%.2f (%.2f to %.2f)", value,
		    interval.low, interval.high);
	}
	return cell;
}

enum page_tone
verdict_tone(enum study_verdict verdict)
{
	switch (verdict) {
	case STUDY_CAPABLE:
		return TONE_GOOD;
	case STUDY_NOT_CAPABLE:
		return TONE_BAD;
	case STUDY_NOT_ESTABLISHED:
		return TONE_STRONG;
	}
	return TONE_PLAIN;
}
