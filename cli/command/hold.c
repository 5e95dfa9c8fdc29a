/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/characteristic.h"
#include "cli/command/found.h"
#include "cli/command/hold_line.h"
#include "cli/command/number_option.h"
#include "cli/command/progress.h"
#include "cli/command/read_lines.h"
#include "cli/command/span.h"
#include "cli/population/suspect.h"
#include "cli/report/report_hold.h"
#include "cli/source/source.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"

enum { HELD = 200 };

struct holding {
	const struct call *call;
	const struct session *session;
	const struct span *span;
	int feature;
	double lower, upper; /* in the unit of the feature's name; NAN */
	struct population_features features;
	struct page *page;
	struct hold_line *lines;
	size_t count;
	int64_t shots, runs, held, held_before;
	int64_t moved;
	bool unsteady;  /* something was unstable */
	bool unbounded; /* no good one was found before something held */
};

/* --- reading, and judging ------------------------------------------------------------------- */

static void
add_up(struct holding *holding, const struct hold_line *line)
{
	if (line->read.none)
		return;
	holding->shots += line->shots;
	holding->runs += (int64_t)line->runs.count;
	holding->held += line->held;
	holding->held_before += line->held_before;
	holding->moved += (int64_t)suspects_moved_parts(&line->suspects);
	holding->unsteady |= line->suspects.moved_count > 0;
	holding->unbounded |=
	    line->runs.count > 0 && line->runs.list[0].last_good == SUSPECT_NONE;
	for (int id = 0; id < FEATURE_COUNT; id++)
		holding->unsteady |= line->suspects.wanders[id];
}

static int
judge_lines(
    struct holding *holding, const struct read_lines *lines, struct error *error)
{
	const struct hold_line_asked asked = {
	    .call = holding->call,
	    .session = holding->session,
	    .span = holding->span,
	    .feature = holding->feature,
	    .lower = holding->lower,
	    .upper = holding->upper,
	    .features = &holding->features,
	};
	int code = 0;

	holding->lines = calloc(lines->count + 1, sizeof *holding->lines);
	if (!holding->lines)
		return error_set(error, ERROR_MEMORY, "out of memory");
	struct progress *progress =
	    progress_start(holding->call->err, PROGRESS_AFTER_S);
	for (size_t i = 0; i < lines->count && code == 0; i++) {
		struct hold_line *line = &holding->lines[holding->count++];
		progress_tell(progress, "%s ...", lines->names[i]);
		code = hold_line_judge(line, &asked, lines->names[i], error);
		if (code == 0)
			add_up(holding, line);
	}
	progress_end(progress);
	return code;
}

/* --- the page ----------------------------------------------------------------------------------- */

/* "hold and inspect 12 parts, as listed, 3 of them made before that time, back to ..." */
static void
tell_held(const struct holding *holding, char words[static HELD])
{
	char before[HELD / 2] = "";

	if (holding->held_before > 0)
		snprintf(before, sizeof before,
		    ", %" PRId64 " of them made before that time%s",
		    holding->held_before,
		    holding->unbounded ? "" : ", back to the last known good one");
	if (holding->held == 0)
		snprintf(words, HELD, "hold and inspect what is listed");
	else
		snprintf(words, HELD, "hold and inspect %" PRId64 " part%s%s",
		    holding->held, holding->held == 1 ? "" : "s", before);
}

static void
put_answer(const struct holding *holding)
{
	struct page *page = holding->page;
	const char *title = holding->span->title;
	char held[HELD];

	tell_held(holding, held);
	if (holding->shots == 0)
		page_note(page, "answer", TONE_BAD,
		    "%s: no shots: nothing is known of that time, and what was made "
		    "in it is not known to be good",
		    title);
	else if (holding->runs == 0)
		page_note(page, "answer", TONE_PLAIN,
		    "%s: nothing to hold: no part is outside a limit, of unknown value "
		    "or without a record; %s",
		    title,
		    holding->unsteady ? "something moved within its limits, as told"
				      : "nothing was unstable");
	else
		page_note(page, "answer", TONE_BAD,
		    "%s: %s. Whether a part is good is for people to decide: this says "
		    "what is suspect or not known, and releases nothing.",
		    title, held);
	page_field(page, "held", NULL, cell_count(holding->held));
	page_field(page, "held_before_time", NULL, cell_count(holding->held_before));
	page_field(page, "moved", NULL, cell_count(holding->moved));
}

static int
put_line(
    const struct holding *holding, const struct hold_line *line, struct error *error)
{
	const struct report_hold report = {
	    .page = holding->page,
	    .line = line->name,
	    .suspects = &line->suspects,
	    .runs = &line->runs,
	    .back = line->read.back,
	    .begins = !line->read.more,
	};

	page_open(holding->page, GROUP_ITEM, NULL, NULL);
	page_field(holding->page, "line", NULL, cell_words(line->name));
	int code = holding->call->format == PAGE_CSV
	               ? report_hold_put_table(&report, error)
	               : report_hold_put(&report, error);
	if (code == 0)
		code = report_hold_put_moved(&report, error);
	report_hold_put_remarks(&report);
	page_close(holding->page);
	return code;
}

static int
put_page(const struct holding *holding, struct error *error)
{
	struct page *page = holding->page;
	char heading[SPAN_TITLE + 24];
	int code = 0;

	snprintf(heading, sizeof heading, "Parts to hold: %s", holding->span->title);
	page_field(page, "title", NULL, cell_words(holding->span->title));
	page_field(page, "from", NULL, cell_time(holding->span->from));
	page_field(page, "to", NULL, cell_time(holding->span->to));
	if (holding->call->format >= PAGE_HTML)
		page_title(page, heading);
	put_answer(holding);
	page_open(page, GROUP_LIST, "lines", NULL);
	for (size_t i = 0; i < holding->count && code == 0; i++)
		if (!holding->lines[i].read.none)
			code = put_line(holding, &holding->lines[i], error);
	page_close(page);
	return code;
}

static enum command_exit
write_holds(struct holding *holding, const struct read_lines *lines)
{
	const struct call *call = holding->call;
	struct error error;

	if (judge_lines(holding, lines, &error) != 0)
		return command_cannot(call, &error);
	holding->page = command_page(call);
	if (!holding->page)
		return COMMAND_CANNOT;
	int failed = put_page(holding, &error);
	enum command_exit code = failed ? command_cannot(call, &error)
	                         : holding->shots == 0 || holding->runs > 0
	                             ? COMMAND_NO
	                             : COMMAND_DONE;
	return command_end_page(call, holding->page, code);
}

/* --- what is asked ---------------------------------------------------------------------------------- */

static enum command_exit
read_limit(const struct holding *holding, enum option_id id, double *value)
{
	double value_si;

	*value = NAN;
	if (!holding->call->option[id])
		return COMMAND_DONE;
	if (holding->feature < 0)
		return command_usage(holding->call,
		    "'--%s' needs --characteristic NAME: of what?",
		    option_table[id].name);
	enum command_exit code = measure_option(
	    holding->call, id, feature_get(holding->feature)->dimension, &value_si);
	*value = feature_from_si(holding->feature, value_si);
	return code;
}

static enum command_exit
read_asked(struct holding *holding)
{
	const struct call *call = holding->call;
	const struct settings *settings = holding->session->settings;
	enum command_exit code = characteristic_option(call, &holding->feature);
	bool limited = false;

	if (code == COMMAND_DONE)
		code = read_limit(holding, OPTION_LOWER, &holding->lower);
	if (code == COMMAND_DONE)
		code = read_limit(holding, OPTION_UPPER, &holding->upper);
	if (code != COMMAND_DONE)
		return code;
	for (size_t i = 0; i < settings->limit_count; i++)
		limited |= holding->feature < 0 ||
		           settings->limits[i].feature == holding->feature;
	if (!limited && isnan(holding->lower) && isnan(holding->upper))
		return command_usage(call,
		    "the set-up has no limits%s%s: give --characteristic NAME with "
		    "--lower or --upper, or add [limits ...] to it",
		    holding->feature >= 0 ? " of " : "",
		    holding->feature >= 0 ? feature_get(holding->feature)->name : "");
	if (!holding->session->ledger && call->option[OPTION_FINDINGS])
		return command_usage(call,
		    "'--findings' needs a ledger: ask that of the line's own PC; a "
		    "store has no reference runs");
	if (call->option[OPTION_REFERENCE] && !call->option[OPTION_FINDINGS])
		return command_usage(call, "'--reference' needs --findings");
	return holding->session->ledger ? found_check(call, holding->session)
	                                : COMMAND_DONE;
}

static void
choose_features(struct holding *holding)
{
	const struct settings *settings = holding->session->settings;

	if (holding->feature >= 0)
		population_features_add(&holding->features, holding->feature);
	for (size_t i = 0; holding->feature < 0 && i < settings->limit_count; i++)
		population_features_add(
		    &holding->features, settings->limits[i].feature);
}

static enum command_exit
find_holds(const struct call *call, const struct session *session)
{
	struct read_lines lines;
	struct span span;
	struct holding holding = {.call = call, .session = session, .span = &span};
	enum command_exit code = read_asked(&holding);

	if (code != COMMAND_DONE)
		return code;
	choose_features(&holding);
	code = read_lines_find(&lines, session, call);
	if (code == COMMAND_DONE)
		code = span_read(&span, session, call, lines.one);
	if (code == COMMAND_DONE && !span.given)
		code = span_latest(&span, session, call, lines.one);
	if (code == COMMAND_DONE)
		code = write_holds(&holding, &lines);
	for (size_t i = 0; i < holding.count; i++)
		hold_line_release(&holding.lines[i]);
	free(holding.lines);
	read_lines_release(&lines);
	return code;
}

static enum command_exit
run_hold(const struct call *call)
{
	return session_run_source(call, find_holds);
}

static const struct option_help hold_help[] = {
    {OPTION_LOWER, "a lower limit with its unit, in place of the set-up's: '360 F'"},
    {OPTION_UPPER, "an upper limit with its unit, in place of the set-up's"},
    {OPTION_UNSTABLE, "what moved within its limits is to be held too"},
    {OPTION_FINDINGS, "what was found against a reference run is suspect too"},
    {0, NULL},
};

const struct command command_hold = {
    .name = "hold",
    .arguments = "",
    .summary = "which parts are suspect, and between which good ones",
    .details =
	"Without a time: the latest shift that has shots.  Suspect is what lies\n"
	"outside a limit, has an unknown value, was not seen whole or not made in\n"
	"the usual way, or has no record.  Told are the first suspect number, the\n"
	"last known good one before it, the first known good one after, the lots\n"
	"and all numbers between: to be held and inspected.  The last good one is\n"
	"looked for among the 500 shots before the time, and where all of those are\n"
	"held among up to 8000; how many were made before it is told.  What is not\n"
	"known is never good.\n"
	"Told beside them is what moved within its limits: parts made since a\n"
	"characteristic became unstable, with the range in which that began.  They\n"
	"are not among those to hold, nor in csv, unless --unstable is given.  Exits\n"
	"1 when something is to be held or there are no shots, 0 when there is\n"
	"nothing to hold.",
    .options = OPTION_BIT(OPTION_LINE) | SPAN_OPTIONS |
               OPTION_BIT(OPTION_CHARACTERISTIC) | OPTION_BIT(OPTION_LOWER) |
               OPTION_BIT(OPTION_UPPER) | OPTION_BIT(OPTION_FINDINGS) |
               OPTION_BIT(OPTION_REFERENCE) | OPTION_BIT(OPTION_STORE) |
               OPTION_BIT(OPTION_UNSTABLE),
    .csv_table = "holds_table",
    .pages = true,
    .help = hold_help,
    .run = run_hold,
};
