/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/characteristic.h"
#include "cli/command/found.h"
#include "cli/command/hold_read.h"
#include "cli/command/hold_told.h"
#include "cli/command/number_option.h"
#include "cli/command/read_lines.h"
#include "cli/command/span.h"
#include "cli/population/suspect.h"
#include "cli/report/report_hold.h"
#include "cli/source/source.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"

struct holding {
	const struct call *call;
	const struct session *session;
	const struct span *span;
	int feature;
	double lower, upper; /* in the unit of the feature's name; NAN */
	struct population_features features;
	struct page *page;
	int64_t shots, runs, held;
	int64_t moved;
	bool unsteady; /* something was unstable */
};

/* --- a line ----------------------------------------------------------------------------------- */

static int
no_memory(struct error *error)
{
	return error_set(error, ERROR_MEMORY, "out of memory: say a shorter time");
}

static int
put(struct holding *holding, const char *line, struct suspects *suspects,
    struct error *error)
{
	struct suspect_runs runs;
	const struct report_hold report = {holding->page, line, suspects, &runs};
	int64_t held = 0;
	int code = 0;

	if (!suspects_bound(suspects, &runs))
		code = no_memory(error);
	else if (holding->call->format == PAGE_CSV)
		code = report_hold_put_table(&report, error);
	else
		code = report_hold_put(&report, &held, error);
	holding->runs += (int64_t)runs.count;
	holding->held += held;
	suspect_runs_release(&runs);
	return code;
}

static int
judge(struct holding *holding, const char *line, const struct hold_read *read,
    struct suspects *suspects, struct error *error)
{
	struct found_all found = {0};
	int index = settings_find_line(holding->session->settings, line), code = 0;

	if (holding->call->option[OPTION_FINDINGS] && index >= 0) {
		const struct found_asked asked = {index, holding->span->from,
		    holding->span->to, holding->call->option[OPTION_REFERENCE]};
		code = found_read_span(&found, holding->session, &asked, error);
	}
	struct hold_told told = {.room = read->gaps.count + FOUND_MOST * found.count};
	told.list = calloc(told.room + 1, sizeof *told.list);
	if (code == 0 &&
	    (!told.list || !suspects_add_lacking(suspects, &read->lacking) ||
		!hold_told_gaps(suspects, read, &told) ||
		!hold_told_found(suspects, &found, &told)))
		code = no_memory(error);
	if (code == 0)
		code = put(holding, line, suspects, error);
	found_release(&found);
	free(told.list);
	return code;
}

/* What is not held, and how it was judged. */
static int
put_rest(struct holding *holding, const char *line, const struct suspects *suspects,
    struct error *error)
{
	const struct report_hold report = {holding->page, line, suspects, NULL};
	int code = report_hold_put_moved(&report, error);

	report_hold_put_remarks(&report);
	holding->moved += (int64_t)suspects_moved_parts(suspects);
	holding->unsteady |= suspects->moved_count > 0;
	for (int id = 0; id < FEATURE_COUNT; id++)
		holding->unsteady |= suspects->wanders[id];
	return code;
}

static int
hold_line(struct holding *holding, const char *line, struct error *error)
{
	const struct hold_asked asked = {
	    line, holding->span->from, holding->span->to, &holding->features};
	struct hold_read read;
	struct suspects suspects = {0};
	int code = hold_read(&read, holding->session->source, &asked, error);
	const struct suspect_asked suspect = {
	    .settings = holding->session->settings,
	    .feature = holding->feature,
	    .lower = holding->lower,
	    .upper = holding->upper,
	    .shots = read.shots,
	    .count = read.count,
	    .first = read.first,
	    .last = read.last,
	    .unstable = holding->call->option[OPTION_UNSTABLE] != NULL,
	};

	if (code == 0 && !read.none) {
		holding->shots += (int64_t)(read.last - read.first + 1);
		page_open(holding->page, GROUP_ITEM, NULL, NULL);
		page_field(holding->page, "line", NULL, cell_words(line));
		if (!suspects_judge(&suspects, &suspect))
			code = no_memory(error);
		else
			code = judge(holding, line, &read, &suspects, error);
		if (code == 0)
			code = put_rest(holding, line, &suspects, error);
		page_close(holding->page);
	}
	suspects_release(&suspects);
	hold_read_release(&read);
	return code;
}

/* --- the page ----------------------------------------------------------------------------------- */

static void
put_answer(const struct holding *holding)
{
	struct page *page = holding->page;
	const char *title = holding->span->title;

	page_field(page, "held", NULL, cell_count(holding->held));
	page_field(page, "moved", NULL, cell_count(holding->moved));
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
		    "%s: hold and inspect what is listed. Whether a part is good is "
		    "for people to decide: this says what is suspect or not known, "
		    "and releases nothing.",
		    title);
}

static enum command_exit
write_holds(struct holding *holding, const struct read_lines *lines)
{
	const struct call *call = holding->call;
	struct error error;
	int failed = 0;

	holding->page = command_page(call);
	if (!holding->page)
		return COMMAND_CANNOT;
	page_field(holding->page, "title", NULL, cell_words(holding->span->title));
	page_field(holding->page, "from", NULL, cell_time(holding->span->from));
	page_field(holding->page, "to", NULL, cell_time(holding->span->to));
	page_open(holding->page, GROUP_LIST, "lines", NULL);
	for (size_t i = 0; i < lines->count && failed == 0; i++)
		failed = hold_line(holding, lines->names[i], &error);
	page_close(holding->page);
	if (failed == 0)
		put_answer(holding);
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
    {OPTION_COUNT, NULL},
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
	"and all numbers between: to be held and inspected.  What is not known is\n"
	"never good.\n"
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
    .help = hold_help,
    .run = run_hold,
};
