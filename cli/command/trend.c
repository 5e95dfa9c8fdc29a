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
#include "cli/population/trend_change.h"
#include "cli/population/trend_courses.h"
#include "cli/report/report_trend.h"
#include "cli/report/report_trend_headline.h"
#include "cli/report/report_trend_overview.h"
#include "cli/source/source.h"
#include "cli/wording/shown.h"
#include "conf/shift.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"

enum { USUAL_DAYS = 28, TITLE = SPAN_TITLE + SETTINGS_NAME + REPORT_TREND_TITLE };

struct line_read {
	struct populations populations;
	struct trend trend;
};

struct trending {
	const struct call *call;
	const struct session *session;
	struct span *span;
	const struct read_lines *lines;
	struct population_features features;
	int feature;            /* the one that was asked for; -1: those with limits */
	struct line_read *read; /* of each line */
	struct trend_courses *kinds; /* that were chosen */
	size_t kind_count;
	struct page *page;
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

static bool
is_chosen(const struct call *call, const struct trend_kind *kind)
{
	const char *recipe = call->option[OPTION_RECIPE];
	const char *tool = call->option[OPTION_TOOL];

	return (!recipe || strcmp(recipe, kind->recipe) == 0) &&
	       (!tool || strcmp(tool, kind->tool) == 0);
}

/* Studies what was read of a line. */
static int
study_line(struct trending *trending, size_t line, struct error *error)
{
	const struct trend *trend = &trending->read[line].trend;
	struct trend_courses *kinds = reallocarray(
	    trending->kinds, trending->kind_count + trend->count + 1, sizeof *kinds);
	int code = 0;

	if (!kinds)
		return error_set(error, ERROR_MEMORY, "out of memory");
	trending->kinds = kinds;
	for (size_t k = 0; k < trend->count && code == 0; k++) {
		if (!is_chosen(trending->call, &trend->kinds[k]))
			continue;
		const struct trend_courses_asked asked = {
		    .settings = trending->session->settings,
		    .line = trending->lines->names[line],
		    .trend = trend,
		    .kind = k,
		    .shift = trending->call->option[OPTION_SHIFT],
		    .feature = trending->feature,
		};
		struct trend_courses *made = &kinds[trending->kind_count];
		code = trend_courses_make(made, &asked, error);
		if (code == 0 && made->kind.count > 0)
			trending->kind_count++;
		else
			trend_courses_release(made);
	}
	return code;
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
		const struct population_asked asked = {.line = line,
		    .from = trending->span->from,
		    .to = trending->span->to,
		    .features = &trending->features};
		progress_tell(progress, "%s ...", line);
		code = populations_read(
		    &read->populations, session->source, &asked, error);
		choose_lot(&read->populations, trending->call->option[OPTION_LOT]);
		if (code == 0)
			code = trend_make(
			    &read->trend, session->settings, &read->populations, error);
		if (code == 0)
			code = study_line(trending, i, error);
	}
	progress_end(progress);
	return code;
}

static void
release_all(struct trending *trending)
{
	for (size_t i = 0; i < trending->kind_count; i++)
		trend_courses_release(&trending->kinds[i]);
	free(trending->kinds);
	for (size_t i = 0; i < trending->lines->count; i++) {
		trend_release(&trending->read[i].trend);
		populations_release(&trending->read[i].populations);
	}
	free(trending->read);
}

/* --- the page ----------------------------------------------------------------------------- */

static int
put_courses(struct trending *trending, struct report_trend *report,
    const struct trend_courses *courses, struct error *error)
{
	int code = 0;

	page_open(trending->page, GROUP_LIST, "characteristics", NULL);
	for (size_t i = 0; i < courses->count && code == 0; i++) {
		report->course = courses->list[i];
		code = report_trend_put(report, error);
	}
	page_close(trending->page);
	if (courses->count == 0)
		page_note(trending->page, NULL, TONE_PLAIN,
		    "the set-up has no limits for this recipe and tool: add [limits "
		    "...] to it, or name a characteristic with --characteristic NAME "
		    "for its mean");
	return code;
}

static int
put_kind(struct trending *trending, size_t number, struct error *error)
{
	const struct session *session = trending->session;
	const struct trend_courses *courses = &trending->kinds[number];
	struct trend_changes changes;
	struct report_trend report = {
	    .page = trending->page,
	    .settings = session->settings,
	    .line = courses->line,
	    .kind = &courses->kind,
	    .changes = &changes,
	    .number = number,
	    .pictures = trending->call->format >= PAGE_HTML,
	};
	const struct trend_change_asked asked = {session->settings, courses->trend,
	    report.kind, session->ledger, report.line};
	char title[REPORT_TREND_TITLE], heading[TITLE];

	report_trend_title(session->settings, report.kind, title);
	snprintf(heading, sizeof heading, "%s, %s: %s", report.line, title,
	    trending->span->title);
	page_open(trending->page, GROUP_ITEM, NULL, heading);
	page_field(trending->page, "line", NULL, cell_words(report.line));
	page_field(trending->page, "recipe", NULL, shown_name(report.kind->recipe));
	page_field(trending->page, "tool", NULL, shown_name(report.kind->tool));
	int code = trend_changes_find(&changes, &asked, error);
	if (code == 0) {
		report_trend_headline_put(trending->page, courses);
		code = put_courses(trending, &report, courses, error);
	}
	trend_changes_release(&changes);
	page_close(trending->page);
	return code;
}

static int
put_all(struct trending *trending, struct error *error)
{
	const struct session *session = trending->session;
	struct page *page = trending->page;
	char title[TITLE];
	size_t courses = 0;
	int code = 0;

	snprintf(title, sizeof title, "%s, shift by shift: %s", session->settings->site,
	    trending->span->title);
	page_title(page, title);
	page_field(page, "version", NULL, cell_words(EVENSOAK_VERSION));
	page_field(page, "site", NULL, cell_words(session->settings->site));
	page_field(page, "title", NULL, cell_words(trending->span->title));
	page_field(page, "from", NULL, cell_time(trending->span->from));
	page_field(page, "to", NULL, cell_time(trending->span->to));
	page_field(
	    page, "shift_name", NULL, cell_words(trending->call->option[OPTION_SHIFT]));
	page_field(page, "setup_hash", NULL, cell_words(session->settings->hash));
	report_trend_headline_put_page(page, trending->kinds, trending->kind_count);
	report_trend_overview_put(page, trending->kinds, trending->kind_count);
	page_open(page, GROUP_LIST, "kinds", NULL);
	for (size_t i = 0; i < trending->kind_count && code == 0; i++) {
		courses += trending->kinds[i].count;
		code = put_kind(trending, i, error);
	}
	page_close(page);
	if (!session->ledger && trending->kind_count > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "calibrations are not marked: a store has none, ask the ledger of "
		    "the line's own PC");
	if (code == 0 && courses > 0)
		report_trend_put_remarks(page, trending->kinds, trending->kind_count);
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
	if (failed == 0 && trending->kind_count == 0)
		page_note(trending->page, NULL, TONE_PLAIN,
		    "%s: no complete shots of what was asked for; 'evensoak shots' "
		    "lists what there is",
		    trending->span->title);
	enum command_exit code = failed ? command_cannot(call, &error)
	                         : trending->kind_count > 0 ? COMMAND_DONE
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
	release_all(trending);
	return code;
}

static bool
is_shift(const struct settings *settings, const char *name)
{
	for (size_t i = 0; i < settings->shift_count; i++)
		if (strcmp(settings->shifts[i].name, name) == 0)
			return true;
	return false;
}

/* Here --shift is a name over the whole time, not one shift. */
static enum command_exit
read_time(struct span *span, const struct session *session, const struct call *call,
    const char *line)
{
	const char *name = call->option[OPTION_SHIFT];
	struct call timed = *call;
	struct shift_span shift;
	struct error error;

	if (name && !is_shift(session->settings, name)) {
		shift_find(session->settings, name, calendar_date_of(clock_wall()),
		    &shift, &error); /* says which there are */
		return command_usage(call, "%s", error.text);
	}
	timed.option[OPTION_SHIFT] = NULL;
	enum command_exit code = span_read(span, session, &timed, line);
	if (code == COMMAND_DONE && !span->given)
		code = latest_weeks(span, session, &timed, line);
	size_t used = strlen(span->title);
	if (code == COMMAND_DONE && name)
		snprintf(span->title + used, sizeof span->title - used,
		    ", '%.30s' shifts alone", name);
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
		code = read_time(&span, session, call, lines.one);
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

static const struct option_help trend_help[] = {
    {OPTION_SHIFT, "the shifts of this name alone, over the whole time"},
    {0, NULL},
};

const struct command command_trend = {
    .name = "trend",
    .arguments = "",
    .summary = "each characteristic shift by shift over weeks",
    .details =
	"Without a time: the four weeks up to the latest shift that has shots.\n"
	"Each characteristic that has limits, of each recipe and tool: n, shots\n"
	"outside, mean, s, Ppk and Cpk with intervals or why they are withheld, and\n"
	"whether it was stable and capable, shift by shift and lot by lot; between\n"
	"them the lots, tools and calibrations that changed.  Above, what was\n"
	"outside and what moved: the mean by a straight line or a step from one\n"
	"shift to the next, the Ppk by a line.  With --shift NAME, the shifts of\n"
	"that name are held against each other.  Exits 1 when there are no complete\n"
	"shots.",
    .options = OPTION_BIT(OPTION_LINE) | OPTION_BIT(OPTION_FROM) |
               OPTION_BIT(OPTION_TO) | OPTION_BIT(OPTION_SINCE) |
               OPTION_BIT(OPTION_SHIFT) | OPTION_BIT(OPTION_CHARACTERISTIC) |
               OPTION_BIT(OPTION_RECIPE) | OPTION_BIT(OPTION_TOOL) |
               OPTION_BIT(OPTION_LOT) | OPTION_BIT(OPTION_STORE),
    .help = trend_help,
    .csv_table = "shifts",
    .pages = true,
    .run = run_trend,
};
