/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_trend_overview.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/report/report_trend.h"
#include "cli/report/report_trend_headline.h"
#include "cli/report/report_trend_words.h"
#include "cli/wording/study_words.h"
#include "cli/wording/verdict.h"
#include "conf/feature.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { MOVED = REPORT_TREND_SHIFT + 32, MEANING = 200 };

static const struct column columns[] = {
    {"line", "line", COLUMN_EACH},
    {"recipe", "recipe", COLUMN_EACH},
    {"tool", "tool", COLUMN_EACH},
    {"characteristic", "characteristic", COLUMN_EACH},
    {"points", NULL, 0},
    {"capable", "capable", 0},
    {"not_established", "not established", 0},
    {"not_capable", "not capable", 0},
    {"outside", "outside", 0},
    {"mean_moved", NULL, 0},
    {"ppk_moved", NULL, 0},
    {NULL, "moved", 0},
    {"last_verdict", "latest", 0},
};

static bool
is_limited(const struct trend_course *course)
{
	return !isnan(course->lower) || !isnan(course->upper);
}

static struct cell
known(const char *name)
{
	return name[0] != '\0' ? cell_words(name) : cell_absent("unknown");
}

/* A count of which none is the good news. */
static struct cell
bad_count(bool limited, size_t count)
{
	struct cell cell = limited ? cell_count((int64_t)count) : cell_absent(NULL);

	cell.tone = limited && count > 0 ? TONE_BAD : TONE_PLAIN;
	return cell;
}

static void
tell_moved(const struct trend_kind *kind, const struct trend_course *course,
    char words[static MOVED])
{
	int ppk = trend_direction(&course->ppk);
	const char *also = ppk > 0 ? ", Ppk rises" : ppk < 0 ? ", Ppk falls" : "";
	char last[REPORT_TREND_SHIFT];

	switch (trend_move(course)) {
	case TREND_MOVE_UNKNOWN:
		snprintf(words, MOVED, "%s", ppk ? also + strlen(", ") : "too few");
		break;
	case TREND_MOVE_NONE:
		snprintf(
		    words, MOVED, "%s", ppk ? also + strlen(", ") : "no move shown");
		break;
	case TREND_MOVE_LINE:
		snprintf(words, MOVED, "mean %s%s",
		    trend_direction(&course->mean) > 0 ? "rises" : "falls", also);
		break;
	case TREND_MOVE_STEP:
		report_trend_shift(&kind->points[course->mean_step.last], last);
		snprintf(words, MOVED, "mean %s after %s%s",
		    course->mean_step.after > course->mean_step.before ? "up" : "down",
		    last, also);
		break;
	}
}

static const char *
moved_name(const struct trend_course *course)
{
	return trend_move(course) == TREND_MOVE_STEP
	           ? report_trend_words_step(course)
	           : report_trend_words_verdict(&course->mean);
}

static void
put_course(struct page *page, const struct trend_courses *courses,
    const struct trend_course *course)
{
	const struct trend_tally tally = trend_tally(course, 0, course->count);
	const struct study *last = course->studies[course->count - 1];
	bool limited = is_limited(course);
	size_t open = tally.points - tally.capable - tally.not_capable;
	char moved[MOVED];
	struct cell verdict = cell_absent(NULL);

	tell_moved(&courses->kind, course, moved);
	if (limited) {
		verdict = cell_words(study_words_verdict_name(last->verdict));
		verdict.instead = study_words_verdict(last->verdict);
		/* It must not look like the bad news that it is not. */
		verdict.tone = last->verdict == STUDY_NOT_ESTABLISHED
		                   ? TONE_PLAIN
		                   : verdict_tone(last->verdict);
	}
	const struct cell cells[] = {
	    cell_words(courses->line),
	    known(courses->kind.recipe),
	    known(courses->kind.tool),
	    cell_words(feature_get(course->feature)->name),
	    cell_count((int64_t)course->count),
	    limited ? cell_count((int64_t)tally.capable) : cell_absent(NULL),
	    limited ? cell_count((int64_t)open) : cell_absent(NULL),
	    bad_count(limited, tally.not_capable),
	    bad_count(limited, tally.outside),
	    cell_words(moved_name(course)),
	    limited ? cell_words(report_trend_words_verdict(&course->ppk))
		    : cell_absent(NULL),
	    cell_words(moved),
	    verdict,
	};
	_Static_assert(COUNT(cells) == COUNT(columns), "a cell for each column");
	page_row(page, cells);
}

static void
put_overview(struct page *page, const struct trend_courses *kinds, size_t count)
{
	size_t courses = 0, limited = 0;

	for (size_t k = 0; k < count; k++) {
		courses += kinds[k].count;
		for (size_t i = 0; i < kinds[k].count; i++)
			limited += is_limited(kinds[k].list[i]);
	}
	if (courses < 2)
		return;
	page_table(page, "overview", "At a glance: counted by shift and lot", columns,
	    COUNT(columns));
	for (size_t k = 0; k < count; k++)
		for (size_t i = 0; i < kinds[k].count; i++)
			put_course(page, &kinds[k], kinds[k].list[i]);
	page_table_end(page);
	if (limited > 0)
		page_note(page, "overview_words", TONE_PLAIN,
		    "A shift with two lots counts twice, each is judged by itself; "
		    "outside counts shots. Not established is not bad: neither was "
		    "shown, most often for too few shots of a lot. A shift that is not "
		    "here had no complete shots, or nobody logged it: a gap is not "
		    "evidence of good parts.");
}

/* What stands before the first detail of how it is computed. */
static void
shorten(const char *meaning, char words[static MEANING])
{
	static const char *const details[] = {
	    ": ", "; ", " (", ", from the tolerances "};
	size_t length = strlen(meaning);

	for (size_t i = 0; i < COUNT(details); i++) {
		const char *at = strstr(meaning, details[i]);
		if (at && (size_t)(at - meaning) < length)
			length = (size_t)(at - meaning);
	}
	snprintf(words, MEANING, "%.*s", (int)length, meaning);
}

static void
put_meanings(struct page *page, const struct trend_courses *kinds, size_t count)
{
	static const struct column meanings[] = {
	    {NULL, "characteristic", 0}, {NULL, "what it is", 0}};
	bool there[FEATURE_COUNT] = {false};
	size_t courses = 0;

	for (size_t k = 0; k < count; k++)
		for (size_t i = 0; i < kinds[k].count; i++, courses++)
			there[kinds[k].list[i]->feature] = true;
	if (courses == 0)
		return;
	page_table(page, NULL, "Characteristics", meanings, COUNT(meanings));
	for (int id = 0; id < FEATURE_COUNT; id++) {
		char words[MEANING];
		if (!there[id])
			continue;
		shorten(feature_get(id)->meaning, words);
		const struct cell cells[] = {
		    cell_words(feature_get(id)->name), cell_words(words)};
		page_row(page, cells);
	}
	page_table_end(page);
}

void
report_trend_overview_put(
    struct page *page, const struct trend_courses *kinds, size_t count)
{
	put_overview(page, kinds, count);
	put_meanings(page, kinds, count);
}
