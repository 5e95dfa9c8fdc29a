/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/characteristic.h"
#include "cli/command/found.h"
#include "cli/command/progress.h"
#include "cli/command/read_lines.h"
#include "cli/command/report_held.h"
#include "cli/command/report_remarks.h"
#include "cli/command/report_shifts.h"
#include "cli/command/span.h"
#include "cli/command/terminal.h"
#include "cli/report/report_answer.h"
#include "cli/report/report_counts.h"
#include "cli/report/report_gaps.h"
#include "cli/report/report_population.h"
#include "cli/report/report_verdicts.h"
#include "cli/source/source.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
enum {
	SUBJECT = SPAN_TITLE + 4 * LEDGER_NAME,
	TITLE = SUBJECT + SETTINGS_NAME + 16,
};

struct report {
	const struct call *call;
	const struct session *session;
	const struct span *span;
	struct population_chosen chosen; /* these alone */
	int characteristic;              /* this one alone; -1: all */
	char subject[SUBJECT];           /* "shift early of 2026-03-02, lot A-0413" */
	struct page *page;
	struct progress *progress; /* NULL: nobody looks */
	int64_t shots;
};

/* --- what is asked about ------------------------------------------------------------------ */

/* NULL: all of them. */
static const char *
characteristic_name(const struct report *report)
{
	return report->characteristic < 0 ? NULL
	                                  : feature_get(report->characteristic)->name;
}

static void
name_subject(struct report *report)
{
	const struct population_chosen *chosen = &report->chosen;
	const char *const parts[][2] = {
	    {"recipe ", chosen->recipe},
	    {"tool ", chosen->tool},
	    {"lot ", chosen->lot},
	    {"", characteristic_name(report)},
	};

	text_copy(report->subject, sizeof report->subject, report->span->title);
	for (size_t i = 0; i < COUNT(parts); i++) {
		size_t length = strlen(report->subject);
		if (parts[i][1])
			snprintf(report->subject + length,
			    sizeof report->subject - length, ", %s%s", parts[i][0],
			    parts[i][1]);
	}
}

static void
put_chosen(const struct report *report)
{
	struct page *page = report->page;

	page_field(page, "of_recipe", NULL, cell_words(report->chosen.recipe));
	page_field(page, "of_tool", NULL, cell_words(report->chosen.tool));
	page_field(page, "of_lot", NULL, cell_words(report->chosen.lot));
	page_field(
	    page, "of_characteristic", NULL, cell_words(characteristic_name(report)));
}

/* --- a line, and the whole --------------------------------------------------------------- */

static int
put_shots(const struct report *report, const struct report_line *line,
    const struct found_all *found, struct error *error)
{
	bool as_table =
	    report->call->option[OPTION_FINDINGS] && report->call->format == PAGE_CSV;
	const struct populations *all = line->all;

	report_verdicts_put(line);
	report_counts_outcomes(report->page, all);
	report_counts_left_out(report->page, all);
	report_counts_what_ran(report->page, all);
	int code = report_gaps_put(line, error);
	if (code == 0)
		code = report_held_put(found, report->session, line, as_table, error);
	if (code == 0)
		report_populations_put(line);
	return code == 0 ? report_counts_setups(report->page, all, line->source, error)
	                 : code;
}

static int
put_no_shots(
    const struct report *report, const struct report_line *line, struct error *error)
{
	if (line->all->others > 0)
		page_note(line->page, NULL, TONE_PLAIN,
		    "there are no such shots in this time, and %" PRId64
		    " others: a report without --recipe, --tool and --lot has them",
		    line->all->others);
	else
		page_note(
		    line->page, NULL, TONE_PLAIN, "there are no shots in this time");
	return report_shifts_tell(line->page, report->session, line->line, error);
}

static int
put_line(struct report *report, struct report_line *line, const struct found_all *found,
    struct error *error)
{
	struct page *page = report->page;
	const struct populations *all = line->all;
	char heading[TITLE];

	snprintf(heading, sizeof heading, "%s: %s", line->line, report->subject);
	page_open(page, GROUP_ITEM, NULL, heading);
	page_field(page, "line", NULL, cell_words(line->line));
	if (all->shots > 0) {
		report_answer_put(line);
		report_held_answer(page, found);
	}
	page_field(page, NULL, "site", cell_words(report->session->settings->site));
	page_field(page, NULL, "from", cell_time(report->span->from));
	page_field(page, NULL, "to", cell_time(report->span->to));
	page_field(page, "shots", "shots", cell_count(all->shots));
	page_field(
	    page, "complete", "complete", cell_count(all->by_outcome[SHOT_COMPLETE]));
	int code = report_held_calibrated(report->session, line, error);
	report_counts_missing(page, &all->missing, report->session->source);
	if (all->shots == 0)
		code = code == 0 ? put_no_shots(report, line, error) : code;
	else if (code == 0)
		code = put_shots(report, line, found, error);
	page_close(page);
	return code;
}

static int
read_line(struct report *report, const char *name, size_t number,
    const struct population_features *features, struct error *error)
{
	const struct session *session = report->session;
	const struct population_asked asked = {
	    name, report->span->from, report->span->to, features};
	int index = settings_find_line(session->settings, name);
	struct populations all;
	struct found_all found = {0};
	struct report_line line = {
	    .page = report->page,
	    .settings = session->settings,
	    .source = session->source,
	    .line = name,
	    .layout = index >= 0 ? &session->settings->lines[index] : NULL,
	    .number = number,
	    .from = report->span->from,
	    .to = report->span->to,
	    .pictures = page_draws(report->page),
	    .machine = report->call->format == PAGE_JSON,
	    .people =
		report->call->format != PAGE_JSON && report->call->format != PAGE_CSV,
	    .chosen = report->chosen,
	    .characteristic = report->characteristic,
	    .all = &all,
	};

	progress_tell(report->progress, "%s ...", name);
	int code = populations_read_chosen(
	    &all, session->source, &asked, &report->chosen, error);
	if (code == 0)
		code = report_line_judge(&line, error);
	if (code == 0)
		code = report_held_read(&found, session,
		    report->call->option[OPTION_REFERENCE], &line, error);
	if (code == 0)
		code = put_line(report, &line, &found, error);
	found_release(&found);
	report->shots += all.shots;
	report_line_release(&line);
	populations_release(&all);
	return code;
}

static int
put_report(struct report *report, const struct read_lines *lines, struct error *error)
{
	const struct settings *settings = report->session->settings;
	struct page *page = report->page;
	struct population_features features = {.count = 0};
	char title[TITLE];
	int code = 0;

	if (lines->count > 1) {
		snprintf(
		    title, sizeof title, "%s: %s", settings->site, report->subject);
		page_title(page, title);
	}
	judgement_features(settings, &features);
	page_field(page, "version", NULL, cell_words(EVENSOAK_VERSION));
	page_field(page, "site", NULL, cell_words(settings->site));
	page_field(page, "title", NULL, cell_words(report->subject));
	put_chosen(report);
	page_field(page, "shift", NULL, shown_name(report->span->shift));
	page_field(page, "from", NULL, cell_time(report->span->from));
	page_field(page, "to", NULL, cell_time(report->span->to));
	page_field(page, "setup_hash", NULL, cell_words(settings->hash));
	page_open(page, GROUP_LIST, "lines", NULL);
	for (size_t i = 0; i < lines->count && code == 0; i++)
		code = read_line(report, lines->names[i], i, &features, error);
	page_close(page);
	if (report->shots > 0)
		report_remarks_put(page, report->session);
	return code;
}

/* The whole of it on `held->out`, for the terminal or file that is call->out. */
static enum command_exit
fill_page(const struct call *held, const struct call *call,
    const struct session *session, const struct read_lines *lines,
    const struct span *span)
{
	const char *table =
	    call->option[OPTION_FINDINGS] ? "findings_table" : call->command->csv_table;
	struct error error;
	struct report report = {.call = held,
	    .session = session,
	    .span = span,
	    .chosen = {call->option[OPTION_RECIPE], call->option[OPTION_TOOL],
		call->option[OPTION_LOT]},
	    .page = NULL};

	if (characteristic_option(call, &report.characteristic) != COMMAND_DONE)
		return COMMAND_USAGE;
	report.page = command_page_of(held, table);
	if (!report.page)
		return COMMAND_CANNOT;
	name_subject(&report);
	page_set_width(report.page, terminal_width(call->out));
	report.progress = progress_start(call->err, PROGRESS_AFTER_S);
	int failed = put_report(&report, lines, &error);
	progress_end(report.progress);
	enum command_exit code = failed             ? command_cannot(call, &error)
	                         : report.shots > 0 ? COMMAND_DONE
	                                            : COMMAND_NO;
	return command_end_page(held, report.page, code);
}

/* Nothing of it, when something was in the way. */
static enum command_exit
write_report(const struct call *call, const struct session *session,
    const struct read_lines *lines, const struct span *span)
{
	char *bytes = NULL;
	size_t length = 0;
	struct call held = *call;
	struct error error;

	held.out = open_memstream(&bytes, &length);
	if (!held.out) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	enum command_exit code = fill_page(&held, call, session, lines, span);
	if (fclose(held.out) != 0 && code != COMMAND_CANNOT) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		code = command_cannot(call, &error);
	}
	if (code != COMMAND_CANNOT)
		fwrite(bytes, 1, length, call->out);
	free(bytes);
	return code;
}

/* What is asked for and only a ledger has. */
static enum command_exit
refuse_of_store(const struct call *call, const struct session *session)
{
	const enum option_id ids[] = {OPTION_REFERENCE, OPTION_FINDINGS};

	if (session->ledger)
		return found_check(call, session);
	for (size_t i = 0; i < COUNT(ids); i++)
		if (call->option[ids[i]])
			return command_usage(call,
			    "'--%s' needs a ledger: ask that of the line's own PC; a "
			    "store has no reference runs",
			    option_table[ids[i]].name);
	return COMMAND_DONE;
}

static enum command_exit
make_report(const struct call *call, const struct session *session)
{
	struct read_lines lines;
	struct span span;
	enum command_exit code = read_lines_find(&lines, session, call);

	if (code == COMMAND_DONE)
		code = refuse_of_store(call, session);
	if (code == COMMAND_DONE)
		code = span_read(&span, session, call, lines.one);
	if (code == COMMAND_DONE && !span.given)
		code = span_latest(&span, session, call, lines.one);
	if (code == COMMAND_DONE)
		code = write_report(call, session, &lines, &span);
	read_lines_release(&lines);
	return code;
}

static enum command_exit
run_report(const struct call *call)
{
	return session_run_source(call, make_report);
}

const struct command command_report = {
    .name = "report",
    .arguments = "",
    .summary = "the capability report of a shift",
    .details =
	"Without a time: the latest shift that has shots.  Each population (recipe, "
	"tool,\nlot, material) is judged on its own.  Shots of a kind that a reference "
	"run\nis frozen of are held against it, the newest or the one that "
	"--reference\n"
	"names.  Exits 1 when there are no shots.",
    .options = OPTION_BIT(OPTION_LINE) | SPAN_OPTIONS | OPTION_BIT(OPTION_RECIPE) |
               OPTION_BIT(OPTION_TOOL) | OPTION_BIT(OPTION_LOT) |
               OPTION_BIT(OPTION_CHARACTERISTIC) | OPTION_BIT(OPTION_REFERENCE) |
               OPTION_BIT(OPTION_FINDINGS) | OPTION_BIT(OPTION_STORE),
    .csv_table = "characteristics",
    .pages = true,
    .run = run_report,
};
