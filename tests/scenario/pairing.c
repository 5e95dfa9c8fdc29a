/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which record is of which sheet. */
#include "tests/scenario/evidence.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

/* So late comes the record of a sheet whose leaving went unseen. */
#define LATEST_S 1000.0

/* Sheets in the machine at the end, and a round before. */
enum { UNFINISHED_MAX = 8 };

static bool
is_swallowed(const struct judge *judge, const struct line_sheet *sheet)
{
	size_t count;
	const struct line_sheet *sheets = line_sheets(judge->line, &count);

	for (size_t i = 0; i < count; i++)
		if (sheets[i].before == sheet->number)
			return judge_swallowed(judge, &sheets[i]);
	return false;
}

/* In and out between two polls: only a ring's counter would tell. */
static bool
is_a_blink(const struct judge *judge, const struct line_sheet *sheet)
{
	for (size_t i = 0; !line_rules(judge->line)->ring && i < judge->unseen.count;
	     i++)
		if (judge->unseen.list[i].from_s <= sheet->stays[0].in_s &&
		    judge->unseen.list[i].to_s >= sheet->stays[0].out_s)
			return true;
	return false;
}

/* Whether some logger must have noticed that the sheet was there, by itself. */
static bool
must_be_known(const struct judge *judge, const struct line_sheet *sheet, double end_s)
{
	double final_s = isnan(sheet->final_s) ? INFINITY : sheet->final_s;

	/* One that a logger found there may go round for all that one knows. */
	if (line_rules(judge->line)->ring &&
	    judge_began(judge, (struct span){sheet->begun_s, sheet->left_s}, false))
		final_s += LATEST_S;
	if (!(final_s + FINISH_S <= end_s) || is_swallowed(judge, sheet) ||
	    is_a_blink(judge, sheet))
		return false;
	for (size_t i = 0; i < judge->start_count; i++) {
		const struct start *start = &judge->starts[i];
		double gone_s = start->resumed ? -1 : start->down_s - POLL_S - 1;

		/* It went while there was no logger, or one that did not know of it. */
		if (!start->resumed && sheet->left_s <= start->at_s + POLL_S &&
		    final_s >= gone_s)
			return false;
	}
	return true;
}

/* The sheet that bears the record's mark. */
static size_t
find_marked(const struct record *record, const struct line_sheet *sheets, size_t count)
{
	int64_t number =
	    record->surface_sheet != 0 ? record->surface_sheet : record->tool_sheet;
	size_t i = 0;

	while (i < count && sheets[i].number != number)
		i++;
	return i;
}

static double
ahead_s(const struct judge *judge, double at_s)
{
	double ahead = 0;

	for (size_t i = 0; i < judge->clock_count; i++)
		if (judge->clocks[i].from_s <= at_s)
			ahead = judge->clocks[i].to_s;
	return ahead;
}

double
judge_line_s(const struct judge *judge, struct wall label, double about_s)
{
	return (double)(label.ns - (int64_t)(WALL_START_S * 1e9)) / 1e9 -
	       ahead_s(judge, about_s);
}

static bool
went_in_at(const struct judge *judge, const struct line_sheet *sheet, struct wall label,
    double slack_s)
{
	for (int i = 0; i < sheet->stay_count; i++) {
		double in_s = sheet->stays[i].in_s;

		/* A clock set within the poll may show already. */
		if (fabs(judge_line_s(judge, label, in_s) - in_s) <= slack_s ||
		    fabs(judge_line_s(judge, label, in_s + slack_s) - in_s) <= slack_s)
			return true;
	}
	return false;
}

/* Where there is no mark: a sheet that has no record yet and went into the oven when this
 * one says that it did; best one that left just before it came, or that some logger must
 * have known; the first of them.  One that says when it went in may have been given up
 * before it left. */
static size_t
find_next(const struct judge *judge, const struct record *record,
    const struct line_sheet *sheets, size_t count, const size_t *taken)
{
	struct wall in = record->shot->heat_start_at;
	double in_slack_s = record->shot->uncertainty_s + POLL_S;
	int side = record->shot->side;
	size_t best = count;
	int best_rank = 0;

	for (size_t i = 0;
	     i < count && (in.ns != 0 || sheets[i].left_s <= record->given_s); i++) {
		bool left = sheets[i].left_s <= record->given_s;
		bool soon =
		    left && (isnan(sheets[i].final_s) ||
				record->given_s <= sheets[i].final_s + FINISH_S);
		bool known = must_be_known(judge, &sheets[i], INFINITY);
		bool late = record->given_s > sheets[i].left_s + LATEST_S;
		int rank = (soon ? 3 : late ? 0 : 1) + (known ? 1 : 0);

		if (taken[i] != 0 || (side >= 0 && side != sheets[i].side) ||
		    (in.ns != 0 && sheets[i].stays[0].in_s > record->given_s) ||
		    (in.ns != 0 && !went_in_at(judge, &sheets[i], in, in_slack_s)))
			continue;
		if (rank > best_rank) {
			best = i;
			best_rank = rank;
		}
	}
	return best;
}

/* A sheet that went round unformed has two, if the silence hid that nobody took it off. */
static void
tell_second(struct judge *judge, const struct record *record,
    const struct line_sheet *sheet, size_t first)
{
	if (record->shot->outcome == SHOT_PARTIAL && judge_out_in_silence(judge, sheet))
		judge->verdicts.unclear++;
	else
		judge_complain(
		    judge, record, sheet, "has another record, number %zu", first);
}

/* Its sheet came out unformed in a silence, has gone in again since, and will have another
 * record. */
static bool
is_of_returning(const struct judge *judge, const struct record *record,
    const struct line_sheet *sheets, size_t count)
{
	struct wall in = record->shot->heat_start_at;
	double slack_s = record->shot->uncertainty_s + POLL_S;

	if (record->shot->outcome != SHOT_PARTIAL)
		return false;
	for (size_t i = 0; in.ns != 0 && i < count; i++)
		if (judge_out_in_silence(judge, &sheets[i]) &&
		    went_in_at(judge, &sheets[i], in, slack_s))
			return true;
	/* Still on its way at the end. */
	return record->surface_sheet > line_youngest(judge->line) - UNFINISHED_MAX;
}

/* What tells whose a record is, the surest first. */
enum clue { CLUE_MARK, CLUE_HEAT, CLUE_ORDER, CLUE_COUNT };

static enum clue
clue_of(const struct record *record)
{
	if (record->surface_sheet != 0 || record->tool_sheet != 0)
		return CLUE_MARK;
	return record->shot->heat_start_at.ns != 0 ? CLUE_HEAT : CLUE_ORDER;
}

static void
pair_up(struct judge *judge, const struct line_sheet *sheets, size_t count,
    size_t *taken, enum clue clue)
{
	for (size_t i = 0; i < judge->record_count; i++) {
		struct record *record = &judge->records[i];
		size_t place;

		if (clue_of(record) != clue)
			continue;
		place = clue == CLUE_MARK
		            ? find_marked(record, sheets, count)
		            : find_next(judge, record, sheets, count, taken);
		if (place == count && is_of_returning(judge, record, sheets, count))
			judge->verdicts.unclear++;
		else if (place == count)
			judge_complain(judge, record, NULL, "is of no sheet");
		else if (taken[place] != 0)
			tell_second(judge, record, &sheets[place], taken[place]);
		else
			taken[place] = i + 1;
	}
}

void
judge_end(struct judge *judge, double end_s, struct verdicts *verdicts)
{
	size_t count;
	const struct line_sheet *sheets = line_sheets(judge->line, &count);
	size_t *taken = calloc(count + 1, sizeof *taken);

	assert(taken != NULL);
	judge->verdicts.records = (int64_t)judge->record_count;
	judge_find_losses(judge);
	for (int clue = 0; clue < CLUE_COUNT; clue++)
		pair_up(judge, sheets, count, taken, (enum clue)clue);
	for (size_t i = 0; i < count; i++) {
		bool known = must_be_known(judge, &sheets[i], end_s);

		judge->verdicts.sheets += taken[i] != 0 || known;
		judge->verdicts.unlogged += taken[i] == 0 && !known;
		if (taken[i] != 0)
			check_record(judge, &judge->records[taken[i] - 1], &sheets[i]);
		else if (known)
			judge_complain(judge, NULL, &sheets[i], "has no record");
	}
	*verdicts = judge->verdicts;
	free(taken);
}
