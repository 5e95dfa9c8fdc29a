/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/outcome.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "conf/settings.h"

#define TIMER_MARGIN_S 1.0    /* a stay this near to the timer was ended by it */
#define INTERRUPTED_TIMES 1.5 /* a stay this many timers long was no heating any more */
#define FAULT_LEAST_S 10.0    /* a fault shorter than this is flagged and no more */
#define MINUTES_FROM_S 120.0  /* durations from here on are told in minutes */

static const char missing[] = "the machine's signals were missing as it moved";

/* A rule's verdict with its reason. */
__attribute__((format(printf, 3, 4))) static enum shot_outcome
verdict(enum shot_outcome outcome, char *reason, const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(reason, OUTCOME_REASON, format, arguments);
	va_end(arguments);
	return outcome;
}

static double
stay_s(const struct stay *stay)
{
	return edge_span_s(&stay->in, &stay->out);
}

/* "the oven", or the name of one of several. */
static const char *
oven_name(const struct line_settings *line, int oven)
{
	if (line->oven_count > 1)
		for (int s = 0; s < line->station_count; s++)
			if (line->stations[s].kind == STATION_OVEN && oven-- == 0)
				return line->stations[s].name;
	return "the oven";
}

/* --- what cannot be vouched for ----------------------------------------------------- */

/* Whether `a` happened before `b`, wherever between their polls they were. */
static bool
surely_before(const struct edge *a, const struct edge *b)
{
	return a->known && b->known && a->at.ns < b->before.ns;
}

/* Into an oven and out again, to the form station, platens closed and open. */
static bool
in_order(const struct sheet *sheet)
{
	const struct edge *out = sheet_heat_end(sheet);

	for (int i = 0; i < sheet->stay_count; i++)
		if (surely_before(&sheet->stays[i].out, &sheet->stays[i].in) ||
		    (i > 0 &&
			surely_before(&sheet->stays[i].in, &sheet->stays[i - 1].out)))
			return false;
	return !surely_before(&sheet->arrived, out) &&
	       !surely_before(&sheet->form_start, out) &&
	       !surely_before(&sheet->form_start, &sheet->arrived) &&
	       !surely_before(&sheet->form_end, &sheet->form_start);
}

static bool
heating_seen(const struct sheet *sheet)
{
	for (int i = 0; i < sheet->stay_count; i++)
		if (isnan(stay_s(&sheet->stays[i])))
			return false;
	return sheet->stay_count > 0;
}

/* Whether there is a poll that surely lies in each stay and in the forming. */
static bool
windows_seen(const struct sheet *sheet)
{
	for (int i = 0; i < sheet->stay_count; i++)
		if (!sheet_stay_window(&sheet->stays[i]).known)
			return false;
	return sheet_form(sheet).known;
}

/* Why the logger did not see all of it; NULL when it did. */
static const char *
unseen_reason(const struct outcome_rules *rules, const struct sheet *sheet)
{
	if (sheet->unseen && (sheet->flags & SHOT_FLAG_SEQUENCE))
		return "its signals came in an order that no machine has";
	if (sheet->unseen && (sheet->flags & SHOT_FLAG_MANUAL))
		return "the line was moved in manual";
	if (sheet->unseen && (sheet->flags & SHOT_FLAG_COUNT_JUMP))
		return "the counter shows an index that was not seen";
	if (sheet->unseen && (sheet->flags & SHOT_FLAG_GAP) &&
	    !(sheet->flags & SHOT_FLAG_LOGGER_START))
		return "the machine's signals were missing: it may be another sheet";
	if (sheet->unseen)
		return "in the machine when logging began";
	if (sheet_uncertainty_s(sheet) > rules->edge_limit_s)
		return missing;
	if ((sheet->silent ||
		edge_uncertainty_s(&sheet->arrived) > rules->edge_limit_s) &&
	    !sheet->form_start.known && !sheet->empty)
		return "the machine's signals were missing while it was due to be "
		       "formed";
	if (sheet->silent && sheet->form_start.known && !sheet->form_end.known)
		return "the machine's signals were missing as the platens opened";
	if (!heating_seen(sheet))
		return "its heating was not seen";
	return NULL;
}

/* What its signals say against each other; NULL when they agree. */
static const char *
contradiction(const struct sheet *sheet)
{
	if (sheet->empty && sheet->form_start.known)
		return "no sheet in the frame, yet the platens closed on it";
	if (sheet->gone && sheet->form_start.known)
		return "gone before the form station, yet the platens closed on it";
	if (sheet->form_start.known && !sheet->form_end.known)
		return "it left with the platens closed";
	if (!in_order(sheet))
		return "its signals came in an order that no machine has";
	return NULL;
}

/* --- what was not made, or not as usual ---------------------------------------------- */

/* Sheets that were not made into a part; SHOT_COMPLETE when it was. */
static enum shot_outcome
unmade(const struct line_settings *line, struct sheet *sheet, char *reason)
{
	double form_s = edge_span_s(&sheet->form_start, &sheet->form_end);

	if (sheet->empty)
		return verdict(SHOT_EMPTY, reason, "no sheet in the frame");
	if (sheet->gone)
		return verdict(SHOT_SCRAPPED, reason, "gone before the form station");
	for (int i = 0; i < sheet->stay_count; i++) {
		const struct stay *stay = &sheet->stays[i];

		if (stay_s(stay) >= line->heat_min_s)
			continue;
		sheet->flags |= SHOT_FLAG_SHORT_HEAT;
		return verdict(SHOT_ABORTED, reason, "only %.0f s in %s", stay_s(stay),
		    oven_name(line, stay->oven));
	}
	if (!sheet->form_start.known)
		return verdict(SHOT_ABORTED, reason, "not formed");
	if (form_s < line->form_min_s) {
		sheet->flags |= SHOT_FLAG_SHORT_FORM;
		return verdict(
		    SHOT_ABORTED, reason, "platens closed for only %.0f s", form_s);
	}
	return SHOT_COMPLETE;
}

/* A fault or a stop held it in the oven; SHOT_COMPLETE when none did. */
static enum shot_outcome
held(const struct outcome_rules *rules, const struct sheet *sheet, char *reason)
{
	if (sheet->fault_s >= FAULT_LEAST_S)
		return verdict(SHOT_INTERRUPTED, reason,
		    "%.0f s of machine fault with it in the oven", sheet->fault_s);
	for (int i = 0; i < sheet->stay_count; i++) {
		const struct stay *stay = &sheet->stays[i];

		if (stay_s(stay) > INTERRUPTED_TIMES * rules->heat_max_s)
			return verdict(SHOT_INTERRUPTED, reason, "%.0f min in %s",
			    stay_s(stay) / 60.0, oven_name(rules->line, stay->oven));
	}
	return SHOT_COMPLETE;
}

/* "heated twice, 4 min apart": a heat ends where the next oven is not further on. */
static enum shot_outcome
reheated(const struct sheet *sheet, char *reason)
{
	double apart_s = NAN;
	int heats = 1;

	for (int i = 1; i < sheet->stay_count; i++)
		if (sheet->stays[i].oven <= sheet->stays[i - 1].oven) {
			heats++;
			apart_s =
			    edge_span_s(&sheet->stays[i - 1].out, &sheet->stays[i].in);
		}
	if (heats > 2)
		return verdict(SHOT_REHEATED, reason, "heated %d times", heats);
	if (apart_s >= MINUTES_FROM_S)
		return verdict(SHOT_REHEATED, reason, "heated twice, %.0f min apart",
		    apart_s / 60.0);
	return verdict(SHOT_REHEATED, reason, "heated twice, %.0f s apart", apart_s);
}

/* No sheet sags that soon: in its first oven within a heat's least time, in a later one
 * before it is surely there. */
static bool
sags_too_soon(const struct line_settings *line, const struct sheet *sheet)
{
	const struct stay *last;

	if (!sheet->sag.known || sheet->stay_count == 0)
		return false;
	last = &sheet->stays[sheet->stay_count - 1];
	return !surely_before(&last->in, &sheet->sag) ||
	       edge_span_s(sheet_heat_start(sheet), &sheet->sag) < line->heat_min_s;
}

/* Flags of the sag eye: on too soon, or never. */
static void
judge_sag(const struct outcome_rules *rules, struct sheet *sheet)
{
	const struct stay *last =
	    sheet->stay_count > 0 ? &sheet->stays[sheet->stay_count - 1] : NULL;
	double last_s = NAN; /* as long as it can have been */

	if (last != NULL)
		last_s = stay_s(last) + (edge_uncertainty_s(&last->in) +
					    edge_uncertainty_s(&last->out)) /
		                            2.0;
	if (sags_too_soon(rules->line, sheet)) {
		sheet->sag.known = false;
		sheet->flags |= SHOT_FLAG_SAG_STUCK;
	}
	if (rules->sag_eye && !sheet->sag.known &&
	    !(sheet->flags & SHOT_FLAG_SAG_STUCK) && !sheet->empty &&
	    last_s >= rules->heat_max_s - TIMER_MARGIN_S)
		sheet->flags |= SHOT_FLAG_TIMER;
	if (edge_uncertainty_s(&sheet->sag) > rules->edge_limit_s)
		sheet->sag.known = false; /* some time in a silence */
}

enum shot_outcome
outcome_of(const struct outcome_rules *rules, struct sheet *sheet,
    char reason[static OUTCOME_REASON])
{
	const char *partial = unseen_reason(rules, sheet);
	enum shot_outcome outcome;

	reason[0] = '\0';
	if (partial == NULL && (partial = contradiction(sheet)) != NULL)
		sheet->flags |= SHOT_FLAG_SEQUENCE;
	if (sheet->closings > 1)
		sheet->flags |= SHOT_FLAG_SEQUENCE;
	if (sheet_reheated(sheet))
		sheet->flags |= SHOT_FLAG_REHEAT;
	if (partial != NULL)
		return verdict(SHOT_PARTIAL, reason, "%s", partial);
	judge_sag(rules, sheet);
	outcome = unmade(rules->line, sheet, reason);
	if (outcome == SHOT_COMPLETE && !windows_seen(sheet))
		return verdict(SHOT_PARTIAL, reason, "%s", missing);
	if (outcome == SHOT_COMPLETE)
		outcome = held(rules, sheet, reason);
	if (outcome != SHOT_COMPLETE)
		return outcome;
	if (sheet->flags & SHOT_FLAG_REHEAT)
		return reheated(sheet, reason);
	if (sheet->flags & SHOT_FLAG_TIMER)
		return verdict(SHOT_TIMER_RELEASE, reason,
		    "no sag after %.0f s: released by the timer",
		    stay_s(&sheet->stays[sheet->stay_count - 1]));
	if (sheet->flags & SHOT_FLAG_STARTUP)
		return verdict(SHOT_STARTUP, reason, "among the first %d after a stop",
		    rules->line->startup_shots);
	return SHOT_COMPLETE;
}
