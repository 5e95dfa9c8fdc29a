/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/wording/verdict.h"

#include <math.h>
#include <stdio.h>

void
verdict_sentence(const struct capability *c, enum capability_verdict verdict,
    char sentence[static VERDICT_SENTENCE])
{
	const size_t room = VERDICT_SENTENCE;

	sentence[0] = '\0';
	switch (verdict) {
	case CAPABILITY_QUOTABLE:
		return;
	case CAPABILITY_NO_LIMIT:
		snprintf(sentence, room, "it has no limits");
		return;
	case CAPABILITY_TOO_FEW:
		snprintf(sentence, room, "too few values: %zu, at least %d are needed",
		    c->n, CAPABILITY_LEAST);
		return;
	case CAPABILITY_MUCH_MISSING:
		snprintf(sentence, room,
		    "%zu of %zu values are absent, more than %d %%", c->missing,
		    c->n + c->missing, CAPABILITY_MISSING_PERCENT);
		return;
	case CAPABILITY_COARSE:
		if (!(c->sd > 0))
			snprintf(sentence, room, "all %zu values are the same", c->n);
		else
			snprintf(sentence, room,
			    "the resolution is too coarse: %zu distinct values inside "
			    "the limits, at least %d are needed",
			    c->distinct, CAPABILITY_DISTINCT);
		return;
	case CAPABILITY_FEW_NEIGHBOURS:
		snprintf(sentence, room,
		    "only %zu shots follow directly on one of the same population, at "
		    "least %d are needed for the spread from shot to shot",
		    c->neighbours, CAPABILITY_LEAST - 1);
		return;
	case CAPABILITY_AUTOCORRELATED:
		snprintf(sentence, room,
		    "a shot depends on the one before it (lag-1 autocorrelation %.2f, "
		    "beyond %.2f), so the spread from shot to shot misleads",
		    c->r1, c->r1_bound);
		return;
	}
}

struct cell
verdict_cell(double value, struct interval interval, enum capability_verdict verdict,
    char figure[static VERDICT_FIGURE])
{
	struct cell cell = cell_number(value, 2);

	if (!isfinite(value))
		return cell_absent(NULL);
	cell.instead = figure;
	switch (verdict) {
	case CAPABILITY_QUOTABLE:
		if (isnan(interval.low))
			snprintf(figure, VERDICT_FIGURE, "%.2f (too dependent)", value);
		else
			snprintf(figure, VERDICT_FIGURE, "%.2f (%.2f to %.2f)", value,
			    interval.low, interval.high);
		return cell;
	case CAPABILITY_TOO_FEW:
		snprintf(figure, VERDICT_FIGURE, "too few");
		break;
	case CAPABILITY_NO_LIMIT:
	case CAPABILITY_MUCH_MISSING:
	case CAPABILITY_COARSE:
	case CAPABILITY_FEW_NEIGHBOURS:
	case CAPABILITY_AUTOCORRELATED:
		snprintf(figure, VERDICT_FIGURE, "withheld");
		break;
	}
	cell.tone = TONE_FAINT;
	return cell;
}
