/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/outcome.h"

#include <math.h>
#include <stdio.h>

#include "conf/settings.h"

#define TIMER_MARGIN_S 1.0    /* a stay this near to the timer was ended by it */
#define INTERRUPTED_TIMES 1.5 /* a stay this many timers long was no heating any more */
#define FAULT_LEAST_S 10.0    /* a fault shorter than this is flagged and no more */

/* Why the logger cannot vouch for the record; NULL when it can. */
static const char *
partial_reason(const struct sheet *sheet, double edge_limit_s)
{
	if (sheet->unseen && (sheet->flags & SHOT_FLAG_MANUAL))
		return "the line was moved in manual";
	if (sheet->unseen && (sheet->flags & SHOT_FLAG_COUNT_JUMP))
		return "the counter shows an index that was not seen";
	if (sheet->unseen)
		return "in the machine when logging began";
	if (sheet_uncertainty_s(sheet) > edge_limit_s)
		return "the machine's signals were missing as it moved";
	if (sheet->silent && !sheet->form_start.known && !sheet->empty)
		return "the machine's signals were missing while it was due to be "
		       "formed";
	return NULL;
}

/* Sheets that were not made into a part; SHOT_COMPLETE when it was. */
static enum shot_outcome
unmade(
    const struct line_settings *line, struct sheet *sheet, double heat_s, char *reason)
{
	if (sheet->empty) {
		snprintf(reason, 128, "no sheet in the frame");
		return SHOT_EMPTY;
	}
	if (sheet->gone) {
		snprintf(reason, 128, "gone before the form station");
		return SHOT_SCRAPPED;
	}
	if (heat_s < line->heat_min_s) {
		sheet->flags |= SHOT_FLAG_SHORT_HEAT;
		snprintf(reason, 128, "only %.0f s in the oven", heat_s);
		return SHOT_ABORTED;
	}
	if (!sheet->form_start.known) {
		snprintf(reason, 128, "not formed");
		return SHOT_ABORTED;
	}
	return SHOT_COMPLETE;
}

enum shot_outcome
outcome_of(const struct line_settings *line, struct sheet *sheet, double heat_max_s,
    double edge_limit_s, bool sag_eye, char reason[static 128])
{
	double heat_s = edge_span_s(&sheet->heat_start, &sheet->heat_end);
	const char *partial = partial_reason(sheet, edge_limit_s);
	enum shot_outcome outcome;

	reason[0] = '\0';
	if (partial != NULL || isnan(heat_s)) {
		snprintf(reason, 128, "%s",
		    partial != NULL ? partial : "its heating was not seen");
		return SHOT_PARTIAL;
	}
	if (edge_span_s(&sheet->heat_start, &sheet->sag) < line->heat_min_s) {
		sheet->sag.known = false; /* no sheet sags that soon */
		sheet->flags |= SHOT_FLAG_SAG_STUCK;
	}
	if (sag_eye && sheet->sags == 0 && !(sheet->flags & SHOT_FLAG_SAG_STUCK) &&
	    !sheet->empty && heat_s >= heat_max_s - TIMER_MARGIN_S)
		sheet->flags |= SHOT_FLAG_TIMER;
	outcome = unmade(line, sheet, heat_s, reason);
	if (outcome != SHOT_COMPLETE)
		return outcome;
	if (sheet->fault_s >= FAULT_LEAST_S) {
		snprintf(reason, 128, "%.0f s of machine fault with it in the oven",
		    sheet->fault_s);
		return SHOT_INTERRUPTED;
	}
	if (heat_s > INTERRUPTED_TIMES * heat_max_s) {
		snprintf(reason, 128, "%.0f min in the oven", heat_s / 60.0);
		return SHOT_INTERRUPTED;
	}
	if (sheet->flags & SHOT_FLAG_TIMER) {
		snprintf(
		    reason, 128, "no sag after %.0f s: released by the timer", heat_s);
		return SHOT_TIMER_RELEASE;
	}
	if (sheet->flags & SHOT_FLAG_STARTUP) {
		snprintf(reason, 128, "among the first %d after a stop",
		    line->startup_shots);
		return SHOT_STARTUP;
	}
	return SHOT_COMPLETE;
}
