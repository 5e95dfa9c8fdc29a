/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/calibrate_state.h"
#include "cli/command/found.h"
#include "cli/command/progress.h"
#include "cli/command/read_lines.h"
#include "cli/command/report_remarks.h"
#include "cli/command/span.h"
#include "cli/command/terminal.h"
#include "cli/report/report_answer.h"
#include "cli/report/report_counts.h"
#include "cli/report/report_gaps.h"
#include "cli/report/report_population.h"
#include "cli/report/report_run.h"
#include "cli/report/report_verdicts.h"
#include "cli/source/source.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define PROGRESS_AFTER_S 1.0

enum {
	TITLE = SPAN_TITLE + SETTINGS_NAME + 16,
	POPULATIONS_TOLD = 24, /* to people */
};

struct report {
	const struct call *call;
	const struct session *session;
	const struct span *span;
	struct page *page;
	struct progress *progress; /* NULL: nobody looks */
	int64_t shots;
};

/* --- against a reference, and how far the sensors can be trusted ------------------------- */

/* What the runs are held against, in their order; the caller frees. */
static struct report_reference *
references_of(const struct report_line *line, const struct found_all *all)
{
	struct report_reference *references =
	    calloc(line->runs.count + 1, sizeof *references);

	for (size_t i = 0; references && i < line->runs.count; i++) {
		const struct run *run = &line->runs.list[i];
		for (size_t k = 0; k < all->count && references[i].id == 0; k++) {
			const struct found *found = &all->list[k];
			if (strcmp(found->kind.recipe, run->recipe) != 0 ||
			    strcmp(found->kind.tool, run->tool) != 0)
				continue;
			references[i].id = found->reference.id;
			text_copy(references[i].name, sizeof references[i].name,
			    found->reference.name);
		}
	}
	return references;
}

static void
put_findings(const struct report *report, const struct found_all *all, int line)
{
	if (report->call->option[OPTION_FINDINGS] && report->call->format == PAGE_CSV)
		found_put_table(report->page, report->session, all, line);
	else
		found_put(report->page, report->session, all, line, false);
}

/* Findings need the ledger, and what they were held against is told with the zones. */
static int
put_held(
    const struct report *report, const struct report_line *line, struct error *error)
{
	const struct session *session = report->session;
	int index = settings_find_line(session->settings, line->line);
	const struct found_asked asked = {index, report->span->from, report->span->to,
	    report->call->option[OPTION_REFERENCE]};
	struct found_all found = {0};
	int code = 0;

	if (session->ledger && index >= 0) {
		code = found_read_span(&found, session, &asked, error);
		if (code == 0)
			put_findings(report, &found, index);
	}
	if (code == 0) {
		struct report_reference *references = references_of(line, &found);
		code = references ? report_runs_put(line, references, error)
		                  : error_set(error, ERROR_MEMORY, "out of memory");
		free(references);
	}
	found_release(&found);
	return code;
}

/* As things stood at the end of the time, or stand now. */
static int
put_calibration(const struct report *report, int line, struct error *error)
{
	const struct session *session = report->session;
	struct wall at = clock_wall();
	char words[CALIBRATE_WORDS];
	struct calibrate_held *held =
	    calloc(session->settings->channel_count + 1, sizeof *held);

	if (!held)
		return error_set(error, ERROR_MEMORY, "out of memory");
	if (report->span->to.ns != 0 && report->span->to.ns < at.ns)
		at = report->span->to;
	int code = calibrate_state_read(
	    held, session->ledger, session->settings, line, at, error);
	if (code == 0) {
		calibrate_words(session->settings, line, held, at, words);
		page_field(report->page, "calibrated", "calibrated", cell_words(words));
	}
	free(held);
	return code;
}

/* --- a line, and the whole --------------------------------------------------------------- */

static void
put_populations(const struct report_line *line)
{
	size_t told = line->people && line->all->count > POPULATIONS_TOLD
	                  ? POPULATIONS_TOLD
	                  : line->all->count;

	page_open(line->page, GROUP_LIST, "populations", NULL);
	for (size_t i = 0; i < told; i++) {
		const struct report_part part = {
		    line->page, line->settings, line->line, &line->all->list[i]};
		char title[REPORT_TITLE], heading[REPORT_TITLE + 64];
		report_population_title(&part, title);
		snprintf(heading, sizeof heading, "%s: %zu complete shots", title,
		    line->all->list[i].complete.count);
		/* without a complete shot people have it among what ran */
		page_open(
		    line->page, GROUP_ITEM, NULL, line->judgements[i] ? heading : NULL);
		report_population_put(&part, line->judgements[i]);
		page_close(line->page);
	}
	if (told < line->all->count)
		page_note(line->page, NULL, TONE_PLAIN,
		    "The figures of %zu more lots are left out here: ask for a shorter "
		    "time, or for --format json or csv.",
		    line->all->count - told);
	page_close(line->page);
}

/* What a ledger alone has: what the sensors were calibrated by ... */
static int
put_calibrated(const struct report *report, const char *line, struct error *error)
{
	int index = settings_find_line(report->session->settings, line);

	if (report->session->ledger && index >= 0)
		return put_calibration(report, index, error);
	page_field(report->page, NULL, "calibrations, findings",
	    cell_words("ask the ledger of the line's own PC"));
	return 0;
}

static int
put_shots(
    const struct report *report, const struct report_line *line, struct error *error)
{
	const struct populations *all = line->all;

	report_verdicts_put(line);
	report_counts_outcomes(report->page, all);
	report_counts_left_out(report->page, all);
	report_counts_what_ran(report->page, all);
	int code = report_gaps_put(line, error);
	if (code == 0)
		code = put_held(report, line, error);
	if (code == 0)
		put_populations(line);
	return code == 0 ? report_counts_setups(report->page, all, line->source, error)
	                 : code;
}

static int
put_line(struct report *report, struct report_line *line, struct error *error)
{
	struct page *page = report->page;
	const struct populations *all = line->all;
	char heading[TITLE];

	snprintf(heading, sizeof heading, "%s: %s", line->line, report->span->title);
	page_open(page, GROUP_ITEM, NULL, heading);
	page_field(page, "line", NULL, cell_words(line->line));
	if (all->shots > 0)
		report_answer_put(line);
	page_field(page, NULL, "site", cell_words(report->session->settings->site));
	page_field(page, NULL, "from", cell_time(report->span->from));
	page_field(page, NULL, "to", cell_time(report->span->to));
	page_field(page, "shots", "shots", cell_count(all->shots));
	page_field(
	    page, "complete", "complete", cell_count(all->by_outcome[SHOT_COMPLETE]));
	int code = put_calibrated(report, line->line, error);
	report_counts_missing(page, &all->missing, report->session->source);
	if (all->shots == 0)
		page_note(page, NULL, TONE_PLAIN, "there are no shots in this time");
	else if (code == 0)
		code = put_shots(report, line, error);
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
	    .all = &all,
	};

	progress_tell(report->progress, "%s ...", name);
	int code = populations_read(&all, session->source, &asked, error);
	if (code == 0)
		code = report_line_judge(&line, error);
	if (code == 0)
		code = put_line(report, &line, error);
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
		    title, sizeof title, "%s: %s", settings->site, report->span->title);
		page_title(page, title);
	}
	judgement_features(settings, &features);
	page_field(page, "version", NULL, cell_words(EVENSOAK_VERSION));
	page_field(page, "site", NULL, cell_words(settings->site));
	page_field(page, "title", NULL, cell_words(report->span->title));
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
	    .page = command_page_of(held, table)};

	if (!report.page)
		return COMMAND_CANNOT;
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
    .options = OPTION_BIT(OPTION_LINE) | SPAN_OPTIONS | OPTION_BIT(OPTION_REFERENCE) |
               OPTION_BIT(OPTION_FINDINGS) | OPTION_BIT(OPTION_STORE),
    .csv_table = "characteristics",
    .pages = true,
    .run = run_report,
};
