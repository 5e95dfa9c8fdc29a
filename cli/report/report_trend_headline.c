/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_trend_headline.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/report/report_trend.h"
#include "cli/report/report_trend_words.h"
#include "daemon/base/text.h"

enum { SENTENCES = 4000 };

static bool
limited(const struct trend_course *course)
{
	return !isnan(course->lower) || !isnan(course->upper);
}

static struct trend_tally
whole(const struct trend_course *course)
{
	return trend_tally(course, 0, course->count);
}

static bool
moved(const struct trend_course *course)
{
	enum trend_move move = trend_move(course);

	return move == TREND_MOVE_LINE || move == TREND_MOVE_STEP ||
	       trend_direction(&course->ppk) != 0;
}

/* Shifts take after the one before: what moved may be no more than that. */
static bool
wanders(const struct trend_course *course)
{
	if (trend_move(course) == TREND_MOVE_STEP)
		return course->mean_step.r1 > course->mean_step.r1_bound;
	return course->mean.r1 > course->mean.r1_bound;
}

/* --- of a characteristic ------------------------------------------------------------------- */

/* A point is of a shift and a lot: the noun for them. */
static const char *
noun(const struct trend_kind *kind)
{
	for (size_t i = 1; i < kind->count; i++)
		if (kind->points[i].from.ns == kind->points[i - 1].from.ns)
			return "points (of a shift and a lot)";
	return kind->count == 1 ? "shift" : "shifts";
}

static void
tell_capable(
    struct text *text, const struct trend_kind *kind, const struct trend_tally *tally)
{
	if (tally->capable == tally->points && tally->points == 2)
		text_printf(text, "Capable in both %s", noun(kind));
	else if (tally->capable == tally->points)
		text_printf(text, "Capable in %s%zu %s",
		    tally->points == 1 ? "the " : "all ", tally->points, noun(kind));
	else if (tally->capable == 0)
		text_printf(
		    text, "Capable in none of %zu %s", tally->points, noun(kind));
	else
		text_printf(text, "Capable in %zu of %zu %s", tally->capable,
		    tally->points, noun(kind));
	if (tally->not_capable > 0)
		text_printf(text, ", not capable in %zu", tally->not_capable);
	size_t open = tally->points - tally->capable - tally->not_capable;
	if (open > 0)
		text_printf(text, ", not established in %zu", open);
}

static void
tell_move(
    struct text *text, const struct trend_kind *kind, const struct trend_course *course)
{
	char between[REPORT_TREND_BETWEEN];

	switch (trend_move(course)) {
	case TREND_MOVE_UNKNOWN:
		text_puts(text, "whether its mean moved cannot be told");
		break;
	case TREND_MOVE_NONE:
		text_puts(text, "its mean is not shown to have moved");
		break;
	case TREND_MOVE_LINE:
		text_printf(text, "its mean %s over the time shown%s",
		    trend_direction(&course->mean) > 0 ? "rose" : "fell",
		    wanders(course) ? ", or wanders" : "");
		break;
	case TREND_MOVE_STEP:
		report_trend_words_between(kind, &course->mean_step, between);
		text_printf(text, "its mean stepped %s between %s%s",
		    course->mean_step.after > course->mean_step.before ? "up" : "down",
		    between, wanders(course) ? ", or wanders" : "");
		break;
	}
}

static void
tell_part(struct text *text, const struct trend_tally *tally)
{
	if (tally->outside == 0)
		text_printf(text, "none of %zu", tally->shots);
	else if (tally->outside == tally->shots)
		text_printf(text, "all %zu", tally->shots);
	else
		text_printf(text, "%zu of %zu", tally->outside, tally->shots);
}

static void
tell_outside(struct text *text, const struct trend_course *course)
{
	const struct trend_tally all = whole(course);
	size_t at = course->mean_step.at;

	if (all.outside == 0) {
		text_puts(text, "no shot outside a limit");
		return;
	}
	if (trend_move(course) != TREND_MOVE_STEP) {
		tell_part(text, &all);
		text_puts(text, " shots outside a limit");
		return;
	}
	const struct trend_tally before = trend_tally(course, 0, at),
				 since = trend_tally(course, at, course->count);
	tell_part(text, &since);
	text_puts(text, " shots outside a limit since, ");
	tell_part(text, &before);
	text_puts(text, " before");
}

void
report_trend_headline(const struct trend_kind *kind, const struct trend_course *course,
    char words[static REPORT_TREND_HEADLINE])
{
	const struct trend_tally tally = whole(course);
	struct text text;

	text_init(&text, REPORT_TREND_HEADLINE);
	if (limited(course))
		tell_capable(&text, kind, &tally);
	else
		text_puts(&text, "No limits");
	text_puts(&text, "; ");
	tell_move(&text, kind, course);
	if (limited(course)) {
		text_puts(&text, "; ");
		tell_outside(&text, course);
	}
	text_puts(&text, ".");
	text_copy(words, REPORT_TREND_HEADLINE, text.bytes ? text.bytes : "");
	text_release(&text);
}

enum page_tone
report_trend_headline_tone(const struct trend_course *course)
{
	const struct trend_tally tally = whole(course);

	if (tally.outside > 0 || tally.not_capable > 0)
		return TONE_BAD;
	if (limited(course) && tally.capable == tally.points && !moved(course))
		return TONE_GOOD;
	return TONE_STRONG;
}

/* --- of a recipe and tool --------------------------------------------------------------------- */

static void
add_name(struct text *text, const char *lead, size_t *count, const char *name)
{
	text_printf(text, "%s%s", (*count)++ ? ", " : lead, name);
}

static void
tell_all_outside(struct text *text, const struct trend_courses *courses)
{
	size_t count = 0, with = 0;

	for (size_t i = 0; i < courses->count; i++) {
		const struct trend_course *course = courses->list[i];
		const struct trend_tally tally = whole(course);
		with += limited(course);
		if (tally.outside == 0)
			continue;
		add_name(text, "Outside a limit: ", &count,
		    feature_get(course->feature)->name);
		text_printf(text, " (%zu of %zu shots)", tally.outside, tally.shots);
	}
	if (with > 0)
		text_puts(text, count ? ". " : "No shot outside a limit. ");
}

static void
tell_how(
    struct text *text, const struct trend_kind *kind, const struct trend_course *course)
{
	char last[REPORT_TREND_SHIFT];

	switch (trend_move(course)) {
	case TREND_MOVE_UNKNOWN:
	case TREND_MOVE_NONE:
		text_puts(text, " (its Ppk)");
		break;
	case TREND_MOVE_LINE:
		text_printf(text, " (%s%s)",
		    trend_direction(&course->mean) > 0 ? "rising" : "falling",
		    wanders(course) ? ", or wanders" : "");
		break;
	case TREND_MOVE_STEP:
		report_trend_shift(&kind->points[course->mean_step.last], last);
		text_printf(text, " (%s after %s%s)",
		    course->mean_step.after > course->mean_step.before ? "up" : "down",
		    last, wanders(course) ? ", or wanders" : "");
		break;
	}
}

static void
tell_all_moved(struct text *text, const struct trend_courses *courses)
{
	size_t count = 0, unknown = 0;

	for (size_t i = 0; i < courses->count; i++) {
		const struct trend_course *course = courses->list[i];
		unknown += trend_move(course) == TREND_MOVE_UNKNOWN;
		if (!moved(course))
			continue;
		add_name(text, "Moved: ", &count, feature_get(course->feature)->name);
		tell_how(text, &courses->kind, course);
	}
	if (count > 0)
		text_puts(text, ". ");
	else if (unknown < courses->count)
		text_puts(text, "Nothing is shown to have moved. ");
	if (unknown == courses->count)
		text_printf(text,
		    "Whether anything moved cannot be told from so few "
		    "shifts: %d are needed. ",
		    SLOPE_LEAST);
}

static void
tell_all_capable(struct text *text, const struct trend_courses *courses)
{
	size_t every = 0, some = 0, with = 0;

	for (size_t i = 0; i < courses->count; i++) {
		const struct trend_course *course = courses->list[i];
		const struct trend_tally tally = whole(course);
		with += limited(course);
		if (limited(course) && tally.capable == tally.points)
			add_name(text, "Capable in every shift: ", &every,
			    feature_get(course->feature)->name);
	}
	if (with == 0)
		return;
	text_puts(text, every ? ". " : "No characteristic is capable in every shift. ");
	for (size_t i = 0; i < courses->count; i++) {
		const struct trend_tally tally = whole(courses->list[i]);
		if (!limited(courses->list[i]) || tally.not_capable == 0)
			continue;
		add_name(text, "Not capable in some: ", &some,
		    feature_get(courses->list[i]->feature)->name);
		text_printf(text, " (%zu of %zu)", tally.not_capable, tally.points);
	}
	text_puts(text, some ? "." : "None is shown to be not capable in any.");
}

void
report_trend_headline_put(struct page *page, const struct trend_courses *courses)
{
	enum page_tone tone = TONE_STRONG;
	struct text text;

	if (courses->count == 0)
		return;
	text_init(&text, SENTENCES);
	tell_all_outside(&text, courses);
	tell_all_moved(&text, courses);
	tell_all_capable(&text, courses);
	for (size_t i = 0; i < courses->count; i++)
		if (whole(courses->list[i]).outside > 0)
			tone = TONE_BAD;
	if (text.failed)
		page_fail(page);
	while (text.length > 0 && text.bytes[text.length - 1] == ' ')
		text.bytes[--text.length] = '\0';
	page_note(page, "headline", tone, "%s", text.bytes ? text.bytes : "");
	text_release(&text);
}

/* --- of the page --------------------------------------------------------------------------------- */

static void
tell_kinds(struct text *text, const struct trend_courses *kinds, size_t count,
    bool (*is)(const struct trend_course *course), const char *what)
{
	size_t told = 0;

	for (size_t k = 0; k < count; k++) {
		bool any = false;
		for (size_t i = 0; i < kinds[k].count; i++)
			any = any || is(kinds[k].list[i]);
		if (!any)
			continue;
		add_name(text, what, &told, kinds[k].line);
		text_printf(text, " recipe %s tool %s",
		    *kinds[k].kind.recipe ? kinds[k].kind.recipe : "unknown",
		    *kinds[k].kind.tool ? kinds[k].kind.tool : "unknown");
	}
	if (told == 0)
		text_printf(text, "%snone", what);
	text_puts(text, ". ");
}

static bool
is_outside(const struct trend_course *course)
{
	return whole(course).outside > 0;
}

static bool
is_not_capable(const struct trend_course *course)
{
	return limited(course) && whole(course).not_capable > 0;
}

void
report_trend_headline_put_page(
    struct page *page, const struct trend_courses *kinds, size_t count)
{
	struct text text;

	if (count < 2)
		return;
	text_init(&text, SENTENCES);
	text_printf(&text, "%zu recipes and tools. ", count);
	tell_kinds(&text, kinds, count, is_outside, "With shots outside a limit: ");
	tell_kinds(&text, kinds, count, is_not_capable, "Not capable in some shift: ");
	tell_kinds(&text, kinds, count, moved, "With something that moved: ");
	if (text.length > 0)
		text.bytes[text.length - 1] = '\0';
	if (text.failed)
		text_copy(text.bytes, text.room, "Many recipes and tools: see each.");
	page_note(page, "headline", TONE_STRONG, "%s", text.bytes ? text.bytes : "");
	text_release(&text);
}
