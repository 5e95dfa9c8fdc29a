/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/scenario/evidence.h"

#include <math.h>
#include <string.h>

#define STEP_S 0.1 /* of the line; a bit changes at one */
#define INTERRUPTED_TIMES 1.5

struct pair {
	struct judge *judge;
	const struct record *record;
	const struct shot *shot;
	const struct line_sheet *sheet;
	struct span in; /* the sheet was in the machine */
};

static double
first_in_s(const struct line_sheet *sheet)
{
	return sheet->stays[0].in_s;
}

static double
last_out_s(const struct line_sheet *sheet)
{
	return sheet->stays[sheet->stay_count - 1].out_s;
}

static struct span
around(double at_s)
{
	return (struct span){at_s, at_s};
}

/* --- may it be partial? ---------------------------------------------------------------- */

static bool
edge_in_silence(const struct pair *pair)
{
	const struct spans *silences = &pair->judge->silences;
	const struct line_sheet *sheet = pair->sheet;
	const struct line_rules *rules = line_rules(pair->judge->line);

	for (int i = 0; i < sheet->stay_count; i++)
		if (spans_touch(
			silences, (struct span){sheet->stays[i].in_s - rules->index_s,
				      sheet->stays[i].in_s}) ||
		    spans_touch(silences, around(sheet->stays[i].out_s)))
			return true;
	if (isnan(sheet->form_start_s)) /* was it formed? */
		return spans_touch(
		    silences, (struct span){last_out_s(sheet), pair->in.to_s});
	return spans_touch(silences, around(sheet->form_start_s)) ||
	       spans_touch(silences, around(sheet->form_end_s));
}

/* A poll, and as long as a bit is debounced. */
#define SEEN_LATER_S 2.0

static enum just
justify(const struct pair *pair)
{
	/* Within a poll of a move nobody can tell which came first. */
	if (judge_had(pair->judge, ODDITY_JOG,
		(struct span){pair->in.from_s - POLL_S, pair->in.to_s + POLL_S}))
		return JUST_MANUAL;
	/* It is in the machine until the logger has seen it leave. */
	if (judge_began(pair->judge,
		(struct span){pair->in.from_s, pair->in.to_s + SEEN_LATER_S}, false))
		return spans_touch(&pair->judge->silences, pair->in) ? JUST_SILENCE
		       : spans_touch(&pair->judge->unseen, pair->in) ? JUST_UNSEEN
		                                                     : JUST_START;
	if (edge_in_silence(pair) || judge_out_in_silence(pair->judge, pair->sheet) ||
	    judge_swallowed(pair->judge, pair->sheet))
		return JUST_SILENCE;
	if (spans_touch(&pair->judge->unseen, pair->in))
		return JUST_UNSEEN;
	return JUST_COUNT;
}

/* --- the outcome ------------------------------------------------------------------------ */

/* Held in an oven for so long that it was no heating any more. */
static double
longest_stay_s(const struct line_sheet *sheet)
{
	double longest_s = 0;

	for (int i = 0; i < sheet->stay_count; i++)
		longest_s =
		    fmax(longest_s, sheet->stays[i].out_s - sheet->stays[i].in_s);
	return longest_s;
}

static const char *
expected_outcome(const struct pair *pair)
{
	const struct line_sheet *sheet = pair->sheet;
	bool long_stay = longest_stay_s(sheet) >
	                 INTERRUPTED_TIMES * line_rules(pair->judge->line)->timer_s;

	if (strcmp(sheet->outcome, "empty") == 0 ||
	    strcmp(sheet->outcome, "scrapped") == 0 ||
	    strcmp(sheet->outcome, "aborted") == 0)
		return sheet->outcome;
	if (sheet->form_end_s - sheet->form_start_s < PLAN_FORM_MIN_S)
		return "aborted";
	if (long_stay)
		return "interrupted";
	if (strcmp(sheet->outcome, "complete") == 0 &&
	    judge_startup(pair->judge, sheet) == STARTUP_YES)
		return "startup";
	return sheet->outcome;
}

/* Another outcome that is as right, from what can be seen. */
static bool
as_right(const struct pair *pair, const char *expected, const char *got)
{
	const struct judge *judge = pair->judge;
	double limit_s = INTERRUPTED_TIMES * line_rules(judge->line)->timer_s;

	if ((strcmp(got, "startup") == 0 || strcmp(got, "complete") == 0) &&
	    strcmp(expected, got) != 0 &&
	    judge_startup(judge, pair->sheet) == STARTUP_PERHAPS)
		return true;
	/* A fault that nobody could see all of. */
	if (strcmp(expected, "interrupted") == 0 &&
	    longest_stay_s(pair->sheet) < limit_s &&
	    (judge_had(judge, ODDITY_SILENT_BITS, pair->in) ||
		judge_had(judge, ODDITY_MISSED_POLLS, pair->in) ||
		judge_had(judge, ODDITY_RESTART, pair->in)))
		return true;
	/* On the edge of a rule. */
	if (fabs(pair->sheet->form_end_s - pair->sheet->form_start_s -
		 PLAN_FORM_MIN_S) <= pair->shot->uncertainty_s + STEP_S)
		return true;
	return fabs(longest_stay_s(pair->sheet) - limit_s) <= pair->shot->uncertainty_s;
}

static void
check_outcome(const struct pair *pair)
{
	struct verdicts *verdicts = &pair->judge->verdicts;
	const char *got = shot_outcome_text(pair->shot->outcome);
	const char *expected = expected_outcome(pair);
	enum just just;

	if (pair->shot->outcome == SHOT_PARTIAL) {
		just = justify(pair);
		if (just == JUST_COUNT)
			judge_complain(pair->judge, pair->record, pair->sheet,
			    "is partial without need");
		else
			verdicts->partial[just]++;
	} else if (strcmp(got, expected) != 0) {
		if (as_right(pair, expected, got))
			verdicts->unclear++;
		else
			judge_complain(pair->judge, pair->record, pair->sheet,
			    "must be %s", expected);
	}
}

/* --- the windows ------------------------------------------------------------------------ */

static void
check_span(
    const struct pair *pair, enum feature_id feature, double true_s, double slack_s)
{
	double got_s = pair->shot->value[feature];

	if (isnan(got_s))
		return;
	if (!(fabs(got_s - true_s) <= pair->shot->uncertainty_s + slack_s + STEP_S))
		judge_complain(pair->judge, pair->record, pair->sheet,
		    "%s is %.2f, must be %.2f within %.2f", feature_get(feature)->name,
		    got_s, true_s, pair->shot->uncertainty_s + slack_s + STEP_S);
}

static void
check_label(const struct pair *pair, const char *name, struct wall label, double true_s)
{
	double got_s = judge_line_s(pair->judge, label, true_s);
	double slack_s = pair->shot->uncertainty_s / 2 + STEP_S;

	if (label.ns == 0 || isnan(true_s) ||
	    judge_had(pair->judge, ODDITY_CLOCK,
		(struct span){true_s - EDGE_LIMIT_S, true_s + EDGE_LIMIT_S}))
		return;
	if (!(fabs(got_s - true_s) <= slack_s))
		judge_complain(pair->judge, pair->record, pair->sheet,
		    "%s is at %.2f, must be %.2f within %.2f", name, got_s, true_s,
		    slack_s);
}

static double
gap_s(const struct line_sheet *sheet)
{
	double gap = 0;

	for (int i = 1; i < sheet->stay_count; i++)
		gap += sheet->stays[i].in_s - sheet->stays[i - 1].out_s;
	return gap;
}

static void
check_windows(const struct pair *pair)
{
	const struct line_sheet *sheet = pair->sheet;
	const struct shot *shot = pair->shot;
	/* An edge of another sheet, or of another bit, may be less certain. */
	struct span since = {
	    fmin(pair->in.from_s,
		isnan(sheet->form_before_s) ? INFINITY : sheet->form_before_s),
	    pair->in.to_s};
	double other_s = judge_had(pair->judge, ODDITY_MISSED_POLLS, since) ||
	                         judge_had(pair->judge, ODDITY_SILENT_BITS, since) ||
	                         judge_had(pair->judge, ODDITY_LATE, since) ||
	                         judge_began(pair->judge, since, true)
	                     ? EDGE_LIMIT_S
	                     : POLL_S;

	if (shot->uncertainty_s > EDGE_LIMIT_S)
		judge_complain(pair->judge, pair->record, sheet,
		    "is uncertain by %.2f s and not partial", shot->uncertainty_s);
	check_span(pair, FEATURE_HEAT_S, last_out_s(sheet) - first_in_s(sheet), 0);
	check_span(pair, FEATURE_HEAT_GAP_S, gap_s(sheet),
	    shot->uncertainty_s * (sheet->stay_count - 1));
	check_span(pair, FEATURE_SAG_S, sheet->sag_s - first_in_s(sheet), other_s);
	check_span(
	    pair, FEATURE_TRANSFER_S, sheet->form_start_s - last_out_s(sheet), 0);
	check_span(pair, FEATURE_FORM_S, sheet->form_end_s - sheet->form_start_s, 0);
	check_span(
	    pair, FEATURE_CYCLE_S, sheet->form_start_s - sheet->form_before_s, other_s);
	check_label(pair, "heat start", shot->heat_start_at, first_in_s(sheet));
	check_label(pair, "heat end", shot->heat_end_at, last_out_s(sheet));
	check_label(pair, "form start", shot->form_start_at, sheet->form_start_s);
	check_label(pair, "form end", shot->form_end_at, sheet->form_end_s);
}

static void
check_cycle(const struct pair *pair)
{
	const double *value = pair->shot->value;
	double sum_s = value[FEATURE_CYCLE_FORMING_S] +
	               value[FEATURE_CYCLE_WAIT_SAG_S] +
	               value[FEATURE_CYCLE_WAIT_LINE_S] + value[FEATURE_CYCLE_INDEX_S] +
	               value[FEATURE_CYCLE_CLOSING_S];

	if (!isnan(sum_s) && !(fabs(sum_s - value[FEATURE_CYCLE_S]) < 1e-6))
		judge_complain(pair->judge, pair->record, pair->sheet,
		    "its cycle is %.6f s, its parts are %.6f s", value[FEATURE_CYCLE_S],
		    sum_s);
}

/* --- nothing odd -------------------------------------------------------------------------- */

static bool
is_untouched(const struct pair *pair)
{
	struct span near = {pair->in.from_s - 1, pair->in.to_s + FINISH_S};

	if (strcmp(pair->sheet->outcome, "complete") != 0 ||
	    pair->sheet->odd & ~(UINT32_C(1) << ODDITY_LOT) ||
	    judge_startup(pair->judge, pair->sheet) != STARTUP_NO ||
	    spans_touch(&pair->judge->unseen, near))
		return false;
	for (int oddity = 0; oddity < ODDITY_COUNT; oddity++)
		if (judge_had(pair->judge, (enum oddity)oddity, near))
			return false;
	return true;
}

static void
check_untouched(const struct pair *pair)
{
	static const enum feature_id needed[] = {FEATURE_HEAT_S, FEATURE_SAG_S,
	    FEATURE_HEAT_GAP_S, FEATURE_EXIT_TOP_C, FEATURE_RATE_TOP,
	    FEATURE_ENERGY_TOP_KWH, FEATURE_TRANSFER_S, FEATURE_FORM_S,
	    FEATURE_TOOL_MEAN_C};
	const struct shot *shot = pair->shot;

	pair->judge->verdicts.clean++;
	if (shot->outcome != SHOT_COMPLETE || shot->flags != 0 ||
	    shot->reason[0] != '\0')
		judge_complain(
		    pair->judge, pair->record, pair->sheet, "nothing odd came near it");
	for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
		if (isnan(shot->value[needed[i]]))
			judge_complain(pair->judge, pair->record, pair->sheet,
			    "nothing odd came near it, and it has no %s",
			    feature_get(needed[i])->name);
}

/* The sheet as a logger knows it that began while it stood unformed at the load station:
 * what was before is not to be seen. */
static struct line_sheet
as_known(const struct judge *judge, const struct line_sheet *sheet)
{
	struct line_sheet known = *sheet;
	int first = 0;

	for (int i = 1; i < sheet->stay_count; i++)
		if (sheet->stays[i].oven == 0 &&
		    judge_began(judge,
			(struct span){sheet->stays[i - 1].out_s, sheet->stays[i].in_s},
			false))
			first = i;
	if (first == 0)
		return known;
	known.stay_count -= first;
	memmove(known.stays, known.stays + first,
	    (size_t)known.stay_count * sizeof known.stays[0]);
	if (known.stay_count == line_rules(judge->line)->ovens &&
	    strcmp(known.outcome, "reheated") == 0)
		known.outcome = "complete";
	return known;
}

void
check_record(struct judge *judge, const struct record *record,
    const struct line_sheet *true_sheet)
{
	const struct line_sheet known = as_known(judge, true_sheet);
	const struct line_sheet *sheet =
	    record->shot->flags & SHOT_FLAG_REHEAT ? true_sheet : &known;
	struct pair pair = {.judge = judge,
	    .record = record,
	    .shot = record->shot,
	    .sheet = sheet,
	    .in = {sheet->begun_s,
		isnan(sheet->final_s) ? sheet->left_s : sheet->final_s}};

	if (record->mixed) {
		judge->verdicts.mixed++;
		judge_complain(judge, record, sheet,
		    "has readings of more than one sheet (surfaces %lld, tool %lld)",
		    (long long)record->surface_sheet, (long long)record->tool_sheet);
	}
	if (record->shot->side >= 0 && record->shot->side != sheet->side)
		judge_complain(judge, record, sheet, "is of the wrong side");
	check_outcome(&pair);
	if (record->shot->outcome != SHOT_PARTIAL)
		check_windows(&pair);
	check_cycle(&pair);
	if (is_untouched(&pair))
		check_untouched(&pair);
}
