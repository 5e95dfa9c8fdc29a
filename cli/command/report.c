/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/calibrate_state.h"
#include "cli/command/found.h"
#include "cli/command/population.h"
#include "cli/command/remark.h"
#include "cli/command/report_population.h"
#include "cli/command/shown.h"
#include "cli/command/span.h"
#include "cli/stats/capability.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { NUMBERS_MAX_BYTES = 1 << 20, TITLE = SPAN_TITLE + SETTINGS_NAME + 16 };

struct report {
	const struct call *call;
	const struct session *session;
	const struct span *span;
	struct page *page;
	int64_t shots;
};

/* --- what ran, and what does not count ----------------------------------------------- */

static void
put_outcomes(struct page *page, const struct populations *all)
{
	static const struct column columns[] = {
	    {"outcome", "outcome", 0},
	    {"shots", "shots", 0},
	};

	page_table(page, "outcomes", "Shots by outcome", columns, COUNT(columns));
	for (int i = SHOT_OUTCOME_COUNT - 1; i >= 0; i--) {
		if (all->by_outcome[i] == 0)
			continue;
		const struct cell cells[] = {
		    cell_words(shot_outcome_text((enum shot_outcome)i)),
		    cell_count(all->by_outcome[i]),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

static void
put_left_out(struct page *page, const struct populations *all)
{
	static const struct column columns[] = {
	    {"outcome", "outcome", 0},
	    {"reason", "reason", 0},
	    {"shots", "shots", 0},
	    {"shot_nos", "numbers", 0},
	};

	page_table(
	    page, "left_out", "Left out of the statistics", columns, COUNT(columns));
	for (size_t i = 0; i < all->left_out_count; i++) {
		const struct left_out *one = &all->left_out[i];
		struct text numbers;
		text_init(&numbers, NUMBERS_MAX_BYTES);
		numbers_text(&one->shots, &numbers);
		const struct cell cells[] = {
		    cell_words(shot_outcome_text(one->outcome)),
		    shown_name(one->reason),
		    cell_count((int64_t)one->shots.count),
		    cell_words(numbers.bytes),
		};
		page_row(page, cells);
		text_release(&numbers);
	}
	page_table_end(page);
}

/* For people: machines find the same in each population. */
static void
put_what_ran(struct page *page, const struct populations *all)
{
	static const struct column columns[] = {
	    {NULL, "recipe", 0},
	    {NULL, "tool", 0},
	    {NULL, "lot", 0},
	    {NULL, "material", 0},
	    {NULL, "shots", 0},
	    {NULL, "complete", 0},
	    {NULL, "first", 0},
	    {NULL, "last", 0},
	};

	page_table(page, NULL, "What ran", columns, COUNT(columns));
	for (size_t i = 0; i < all->count; i++) {
		const struct population *one = &all->list[i];
		const struct cell cells[] = {
		    shown_name(one->recipe),
		    shown_name(one->tool),
		    shown_name(one->lot),
		    shown_name(one->material),
		    cell_count(one->shots),
		    cell_count((int64_t)one->complete.count),
		    cell_time(one->first),
		    cell_time(one->last),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

/* --- the set-ups ---------------------------------------------------------------------- */

static int
put_setups(
    const struct report *report, const struct populations *all, struct error *error)
{
	static const struct column columns[] = {
	    {"hash", "set-up in force", 0},
	    {"shots", "shots", 0},
	};

	page_table(report->page, "setups", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < all->setup_count; i++) {
		char hash[17];
		char *text = ledger_read_setup(
		    report->session->ledger, all->setups[i].setup, error);
		if (!text) {
			page_table_end(report->page);
			return ERROR_IO;
		}
		snprintf(
		    hash, sizeof hash, "%016" PRIx64, text_hash(text, strlen(text)));
		free(text);
		const struct cell cells[] = {
		    cell_words(hash),
		    cell_count(all->setups[i].shots),
		};
		page_row(report->page, cells);
	}
	page_table_end(report->page);
	return 0;
}

/* --- against a reference, and how far the sensors can be trusted ------------------------- */

static int
put_findings(const struct report *report, int line, struct error *error)
{
	const struct found_asked asked = {line, report->span->from, report->span->to,
	    report->call->option[OPTION_REFERENCE]};
	struct found_all all;
	int code = found_read_span(&all, report->session, &asked, error);

	if (code == 0 && report->call->option[OPTION_FINDINGS] &&
	    report->call->format == PAGE_CSV)
		found_put_table(report->page, report->session, &all, line);
	else if (code == 0)
		found_put(report->page, report->session, &all, line, false);
	found_release(&all);
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

static int
put_populations(const struct report *report, const char *line,
    const struct populations *all, struct error *error)
{
	int code = 0;

	page_open(report->page, GROUP_LIST, "populations", NULL);
	for (size_t i = 0; i < all->count && code == 0; i++) {
		const struct report_part part = {
		    report->page, report->session->settings, line, &all->list[i]};
		char title[REPORT_TITLE], heading[REPORT_TITLE + 64];
		report_population_title(&part, title);
		snprintf(heading, sizeof heading, "%s: %zu complete shots", title,
		    all->list[i].complete.count);
		page_open(report->page, GROUP_ITEM, NULL, heading);
		code = report_population_put(&part, error);
		page_close(report->page);
	}
	page_close(report->page);
	return code;
}

static int
put_line(struct report *report, int index, const struct populations *all,
    struct error *error)
{
	const char *line = report->session->settings->lines[index].name;
	struct page *page = report->page;
	char heading[TITLE];

	snprintf(heading, sizeof heading, "%s: %s", line, report->span->title);
	page_open(page, GROUP_ITEM, NULL, heading);
	page_field(page, "line", NULL, cell_words(line));
	page_field(page, NULL, "site", cell_words(report->session->settings->site));
	page_field(page, NULL, "from", cell_time(report->span->from));
	page_field(page, NULL, "to", cell_time(report->span->to));
	page_field(page, "shots", "shots", cell_count(all->shots));
	page_field(
	    page, "complete", "complete", cell_count(all->by_outcome[SHOT_COMPLETE]));
	int code = put_calibration(report, index, error);
	if (all->shots == 0) {
		page_note(page, NULL, TONE_PLAIN, "there are no shots in this time");
	} else if (code == 0) {
		put_outcomes(page, all);
		put_left_out(page, all);
		put_what_ran(page, all);
		code = put_findings(report, index, error);
		if (code == 0)
			code = put_populations(report, line, all, error);
		if (code == 0)
			code = put_setups(report, all, error);
	}
	page_close(page);
	return code;
}

static void
put_remarks(const struct report *report)
{
	const struct session *session = report->session;
	struct page *page = report->page;

	page_open(page, GROUP_OBJECT, "remarks", "Remarks");
	page_note(page, "limits", TONE_PLAIN, "Limits: from the set-up %s%s, hash %s.",
	    session->filed ? "filed newest in " : "", session->settings->path,
	    session->settings->hash);
	page_note(page, "intervals", TONE_PLAIN,
	    "In brackets: 95 %% intervals, two-sided; Cp and Pp by chi-square, Cpk and "
	    "Ppk after Bissell (Applied Statistics 39:331-340, 1990). Ppk at least: "
	    "one-sided 95 %% bound by the noncentral t. r1: lag-1 autocorrelation. "
	    "Where r1 is above its bound, the intervals of Pp and Ppk are those of a "
	    "first-order autoregressive series: wider, lower by the bias of its s, and "
	    "approximate; Ppk at least is then a normal bound, as approximate. Too "
	    "dependent: worth fewer than %d independent values.",
	    CAPABILITY_LEAST_EFFECTIVE);
	page_note(page, "stability", TONE_PLAIN,
	    "Stability is not judged: a Cpk shown here is withheld for dependence and "
	    "few values only, and a series that drifts or jumps can still have one.");
	page_note(page, "statistics", TONE_PLAIN,
	    "Statistics use complete shots only; recipes, tools and lots are not "
	    "pooled. The indices assume a normal distribution, which is not tested.");
	found_put_words(page);
	page_note(page, "energy", TONE_PLAIN,
	    "Energies of zones are estimated from their outputs and rated power; "
	    "meter_kwh alone is measured.");
	page_note(page, "gaps", TONE_PLAIN,
	    "What was not logged is unknown: a gap is no evidence of good parts. In "
	    "'evensoak shots', " REMARK_GAP ".");
	page_note(page, "program", TONE_FAINT,
	    "evensoak " EVENSOAK_VERSION ", ledger %s", session->path);
	page_close(page);
}

static int
put_report(struct report *report, int line, struct error *error)
{
	const struct settings *settings = report->session->settings;
	struct page *page = report->page;
	size_t first = line >= 0 ? (size_t)line : 0;
	size_t end = line >= 0 ? first + 1 : settings->line_count;
	int code = 0;

	page_field(page, "version", NULL, cell_words(EVENSOAK_VERSION));
	page_field(page, "site", NULL, cell_words(settings->site));
	page_field(page, "title", NULL, cell_words(report->span->title));
	page_field(page, "shift", NULL, shown_name(report->span->shift));
	page_field(page, "from", NULL, cell_time(report->span->from));
	page_field(page, "to", NULL, cell_time(report->span->to));
	page_field(page, "setup_hash", NULL, cell_words(settings->hash));
	page_open(page, GROUP_LIST, "lines", NULL);
	for (size_t i = first; i < end && code == 0; i++) {
		struct populations all;
		const char *name = settings->lines[i].name;
		code = populations_read(&all, report->session->ledger, name,
		    report->span->from, report->span->to, error);
		if (code == 0)
			code = put_line(report, (int)i, &all, error);
		report->shots += all.shots;
		populations_release(&all);
	}
	page_close(page);
	if (report->shots > 0)
		put_remarks(report);
	return code;
}

static enum command_exit
make_report(const struct call *call, const struct session *session)
{
	struct span span;
	struct error error;
	int line;
	enum command_exit code = session_line(session, call, &line);

	if (code != COMMAND_DONE)
		return code;
	const char *name = line >= 0 ? session->settings->lines[line].name : NULL;
	if ((code = found_check(call, session)) == COMMAND_DONE)
		code = span_read(&span, session, call, name);
	if (code == COMMAND_DONE && !span.given)
		code = span_latest(&span, session, call, name);
	if (code != COMMAND_DONE)
		return code;
	struct report report = {.call = call,
	    .session = session,
	    .span = &span,
	    .page = command_page_of(call, call->option[OPTION_FINDINGS]
					      ? "findings_table"
					      : call->command->csv_table)};
	if (!report.page)
		return COMMAND_CANNOT;
	code = put_report(&report, line, &error) != 0 ? command_cannot(call, &error)
	       : report.shots > 0                     ? COMMAND_DONE
	                                              : COMMAND_NO;
	return command_end_page(call, report.page, code);
}

static enum command_exit
run_report(const struct call *call)
{
	return session_run(call, make_report);
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
               OPTION_BIT(OPTION_FINDINGS),
    .csv_table = "characteristics",
    .run = run_report,
};
