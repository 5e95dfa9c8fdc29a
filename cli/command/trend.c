/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/characteristic.h"
#include "cli/command/progress.h"
#include "cli/command/read_lines.h"
#include "cli/command/span.h"
#include "cli/population/judgement.h"
#include "cli/population/trend.h"
#include "cli/population/trend_change.h"
#include "cli/report/report_trend.h"
#include "cli/source/source.h"
#include "cli/wording/shown.h"
#include "conf/shift.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"

#define PROGRESS_AFTER_S 1.0

enum { USUAL_DAYS = 28, TITLE = SPAN_TITLE + SETTINGS_NAME + REPORT_TREND_TITLE };

struct line_read {
	struct populations populations;
	struct trend trend;
};

struct trending {
	const struct call *call;
	const struct session *session;
	const struct span *span;
	const struct read_lines *lines;
	struct population_features features;
	int feature;            /* the one that was asked for; -1: those with limits */
	struct line_read *read; /* of each line */
	struct page *page;
	size_t kinds, courses, slopes;
};

/* --- reading ---------------------------------------------------------------------------- */

/* The features of the limits, or the one that was asked for. */
static void
choose_features(struct trending *trending)
{
	const struct settings *settings = trending->session->settings;

	if (trending->feature >= 0)
		population_features_add(&trending->features, trending->feature);
	for (size_t i = 0; trending->feature < 0 && i < settings->limit_count; i++)
		population_features_add(
		    &trending->features, settings->limits[i].feature);
}

/* Shots of another lot are not looked at. */
static void
choose_lot(struct populations *populations, const char *lot)
{
	for (size_t i = 0; lot && i < populations->count; i++)
		if (strcmp(populations->list[i].lot, lot) != 0)
			populations->list[i].complete.count = 0;
}

static int
read_all(struct trending *trending, struct error *error)
{
	const struct session *session = trending->session;
	struct progress *progress =
	    progress_start(trending->call->err, PROGRESS_AFTER_S);
	int code = 0;

	for (size_t i = 0; i < trending->lines->count && code == 0; i++) {
		struct line_read *read = &trending->read[i];
		const char *line = trending->lines->names[i];
		const struct population_asked asked = {line, trending->span->from,
		    trending->span->to, &trending->features};
		progress_tell(progress, "%s ...", line);
		code = populations_read(
		    &read->populations, session->source, &asked, error);
		choose_lot(&read->populations, trending->call->option[OPTION_LOT]);
		if (code == 0)
			code = trend_make(
			    &read->trend, session->settings, &read->populations, error);
	}
	progress_end(progress);
	return code;
}

/* --- the page ----------------------------------------------------------------------------- */

static bool
is_chosen(const struct call *call, const struct trend_kind *kind)
{
	const char *recipe = call->option[OPTION_RECIPE];
	const char *tool = call->option[OPTION_TOOL];

	return (!recipe || strcmp(recipe, kind->recipe) == 0) &&
	       (!tool || strcmp(tool, kind->tool) == 0);
}

static int
put_course(struct trending *trending, struct report_trend *report, int feature,
    struct error *error)
{
	const struct limit_settings *limit = settings_limit(report->settings, feature,
	    population_recipe(report->kind->recipe), report->kind->tool);
	struct trend_course *course = trend_course_new(report->kind, feature, limit);

	if (!course)
		return error_set(error, ERROR_MEMORY, "out of memory");
	report->course = course;
	trending->courses++;
	trending->slopes += course->mean.n >= SLOPE_LEAST ? 1 : 0;
	trending->slopes += course->ppk.n >= SLOPE_LEAST ? 1 : 0;
	int code = report_trend_put(report, error);
	trend_course_free(course);
	return code;
}

static int
put_courses(struct trending *trending, struct report_trend *report, struct error *error)
{
	size_t before = trending->courses;
	int code = 0;

	page_open(trending->page, GROUP_LIST, "characteristics", NULL);
	for (int id = 0; id < FEATURE_COUNT && code == 0; id++)
		if (trending->feature >= 0
			? id == trending->feature
			: settings_limit(report->settings, id,
			      population_recipe(report->kind->recipe),
			      report->kind->tool) != NULL)
			code = put_course(trending, report, id, error);
	page_close(trending->page);
	if (code == 0 && trending->courses == before)
		page_note(trending->page, NULL, TONE_PLAIN,
		    "the set-up has no limits for this recipe and tool: add [limits "
		    "...] to it, or name a characteristic with --characteristic NAME "
		    "for its mean");
	return code;
}

static int
put_kind(struct trending *trending, size_t line, size_t kind, struct error *error)
{
	const struct session *session = trending->session;
	const struct trend *trend = &trending->read[line].trend;
	struct trend_changes changes;
	struct report_trend report = {
	    .page = trending->page,
	    .settings = session->settings,
	    .line = trending->lines->names[line],
	    .kind = &trend->kinds[kind],
	    .changes = &changes,
	    .number = trending->kinds++,
	    .pictures = trending->call->format >= PAGE_HTML,
	};
	const struct trend_change_asked asked = {
	    session->settings, trend, report.kind, session->ledger, report.line};
	char title[REPORT_TREND_TITLE], heading[TITLE];

	report_trend_title(session->settings, report.kind, title);
	snprintf(heading, sizeof heading, "%s, %s: %s", report.line, title,
	    trending->span->title);
	page_open(trending->page, GROUP_ITEM, NULL, heading);
	page_field(trending->page, "line", NULL, cell_words(report.line));
	page_field(trending->page, "recipe", NULL, shown_name(report.kind->recipe));
	page_field(trending->page, "tool", NULL, shown_name(report.kind->tool));
	int code = trend_changes_find(&changes, &asked, error);
	if (code == 0)
		code = put_courses(trending, &report, error);
	trend_changes_release(&changes);
	page_close(trending->page);
	return code;
}

static int
put_all(struct trending *trending, struct error *error)
{
	const struct session *session = trending->session;
	struct page *page = trending->page;
	int code = 0;

	page_field(page, "version", NULL, cell_words(EVENSOAK_VERSION));
	page_field(page, "site", NULL, cell_words(session->settings->site));
	page_field(page, "title", NULL, cell_words(trending->span->title));
	page_field(page, "from", NULL, cell_time(trending->span->from));
	page_field(page, "to", NULL, cell_time(trending->span->to));
	page_field(page, "setup_hash", NULL, cell_words(session->settings->hash));
	page_open(page, GROUP_LIST, "kinds", NULL);
	for (size_t i = 0; i < trending->lines->count; i++)
		for (size_t k = 0; k < trending->read[i].trend.count; k++) {
			const struct trend_kind *kind =
			    &trending->read[i].trend.kinds[k];
			if (code != 0 || !is_chosen(trending->call, kind))
				continue;
			code = put_kind(trending, i, k, error);
		}
	page_close(page);
	if (!session->ledger && trending->kinds > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "calibrations are not marked: a store has none, ask the ledger of "
		    "the line's own PC");
	if (code == 0 && trending->courses > 0)
		report_trend_put_remarks(page, trending->slopes);
	return code;
}

static enum command_exit
write_trend(struct trending *trending)
{
	const struct call *call = trending->call;
	struct error error;

	trending->page = command_page(call);
	if (!trending->page)
		return COMMAND_CANNOT;
	int failed = put_all(trending, &error);
	if (failed == 0 && trending->kinds == 0)
		page_note(trending->page, NULL, TONE_PLAIN,
		    "%s: no complete shots of what was asked for; 'evensoak shots' "
		    "lists what there is",
		    trending->span->title);
	enum command_exit code = failed                ? command_cannot(call, &error)
	                         : trending->kinds > 0 ? COMMAND_DONE
	                                               : COMMAND_NO;
	return command_end_page(call, trending->page, code);
}

/* --- what is asked -------------------------------------------------------------------------- */

/* The weeks up to the latest shift that has shots. */
static enum command_exit
latest_weeks(struct span *span, const struct session *session, const struct call *call,
    const char *line)
{
	char title[sizeof span->title];
	struct shift_span shift;
	enum command_exit code = span_latest(span, session, call, line);

	if (code != COMMAND_DONE)
		return code;
	snprintf(title, sizeof title, "four weeks up to %.90s", span->title);
	snprintf(span->title, sizeof span->title, "%s", title);
	span->from = calendar_local(
	    calendar_date_add(calendar_date_of(span->from), 1 - USUAL_DAYS), 0);
	if (shift_at(session->settings, span->from, &shift))
		span->from = shift.to; /* no half shift */
	return COMMAND_DONE;
}

static enum command_exit
read_and_write(struct trending *trending)
{
	struct error error;

	choose_features(trending);
	if (trending->features.count == 0)
		return command_usage(trending->call,
		    "the set-up has no limits: add [limits ...] to it, or name a "
		    "characteristic with --characteristic NAME for its mean");
	trending->read = calloc(trending->lines->count + 1, sizeof *trending->read);
	if (!trending->read) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(trending->call, &error);
	}
	enum command_exit code = read_all(trending, &error) == 0
	                             ? write_trend(trending)
	                             : command_cannot(trending->call, &error);
	for (size_t i = 0; i < trending->lines->count; i++) {
		trend_release(&trending->read[i].trend);
		populations_release(&trending->read[i].populations);
	}
	free(trending->read);
	return code;
}

static enum command_exit
make_trend(const struct call *call, const struct session *session)
{
	struct read_lines lines;
	struct span span;
	struct trending trending = {
	    .call = call, .session = session, .span = &span, .lines = &lines};
	enum command_exit code = characteristic_option(call, &trending.feature);

	if (code != COMMAND_DONE)
		return code;
	code = read_lines_find(&lines, session, call);
	if (code == COMMAND_DONE)
		code = span_read(&span, session, call, lines.one);
	if (code == COMMAND_DONE && !span.given)
		code = latest_weeks(&span, session, call, lines.one);
	if (code == COMMAND_DONE)
		code = read_and_write(&trending);
	read_lines_release(&lines);
	return code;
}

static enum command_exit
run_trend(const struct call *call)
{
	return session_run_source(call, make_trend);
}

const struct command command_trend = {
    .name = "trend",
    .arguments = "",
    .summary = "each characteristic shift by shift over weeks",
    .details =
	"Without a time: the four weeks up to the latest shift that has shots.\n"
	"Each characteristic that has limits, of each recipe and tool: n, mean, s,\n"
	"Ppk and Cpk with intervals or why they are withheld, and whether it was\n"
	"stable, shift by shift and lot by lot; between them the lots, tools and\n"
	"calibrations that changed.  Whether its mean or its Ppk moved over that\n"
	"time is said with the slope and its interval.  Exits 1 when there are no\n"
	"complete shots.",
    .options = OPTION_BIT(OPTION_LINE) | OPTION_BIT(OPTION_FROM) |
               OPTION_BIT(OPTION_TO) | OPTION_BIT(OPTION_SINCE) |
               OPTION_BIT(OPTION_CHARACTERISTIC) | OPTION_BIT(OPTION_RECIPE) |
               OPTION_BIT(OPTION_TOOL) | OPTION_BIT(OPTION_LOT) |
               OPTION_BIT(OPTION_STORE),
    .csv_table = "shifts",
    .pages = true,
    .run = run_trend,
};
