/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdlib.h>

#include "cli/command/capability_gauge.h"
#include "cli/command/capability_ledger.h"
#include "cli/command/capability_options.h"
#include "cli/command/capability_put.h"
#include "cli/command/progress.h"
#include "cli/command/session.h"
#include "cli/csv/csv_table.h"
#include "daemon/base/error.h"

static enum command_exit
cannot_for_memory(const struct call *call)
{
	struct error error;

	error_set(&error, ERROR_MEMORY, "out of memory");
	return command_cannot(call, &error);
}

static void
put_view(const struct call *call, struct page *page, const struct capability_view *view)
{
	if (call->format == PAGE_JSON)
		capability_put_machines(page, view);
	else if (call->format == PAGE_CSV)
		capability_put_row(page, view);
	else
		capability_put_people(page, view);
}

enum command_exit
capability_study_put(const struct call *call, const struct capability_view *view,
    struct progress **progress)
{
	struct capability_view filled = *view;

	progress_tell(*progress, "%zu value%s ...", view->asked->series.count,
	    view->asked->series.count == 1 ? "" : "s");
	struct study *study = study_new(view->asked);
	progress_end(*progress);
	*progress = NULL;
	if (!study)
		return cannot_for_memory(call);
	struct page *page = command_page(call);
	enum command_exit code = COMMAND_CANNOT;
	filled.study = study;
	if (page) {
		put_view(call, page, &filled);
		code = study->verdict == STUDY_CAPABLE ? COMMAND_DONE : COMMAND_NO;
		code = command_end_page(call, page, code);
	}
	study_free(study);
	return code;
}

static void
tell_rows(void *progress, size_t rows)
{
	progress_tell(progress, "%.1f million rows ...", (double)rows / 1e6);
}

static enum command_exit
study_file(const struct call *call, struct capability_options *options,
    struct csv_table *table, struct problems *problems, struct progress **progress)
{
	const char *path = call->argument[0];
	const struct csv_table_asked asked = {
	    .column = {call->option[OPTION_COLUMN]},
	    .column_count = 1,
	    .decimal_comma = call->option[OPTION_DECIMAL_COMMA] != NULL,
	    .bounded_at_zero = options->asked.zero_bounded,
	    .came = tell_rows,
	    .arg = *progress,
	};

	if (!csv_table_read(table, path, stdin, &asked, problems))
		return COMMAND_CANNOT;
	options->asked.series =
	    (struct series){.values = table->values, .count = table->count};
	const struct capability_view view = {
	    .asked = &options->asked,
	    .title = table->title,
	    .source = path[0] == '-' && path[1] == '\0' ? "standard input" : path,
	    .noun = "value",
	    .unit = "",
	    .scale = 1,
	    .empty_at_end = table->empty_at_end,
	};
	return capability_study_put(call, &view, progress);
}

static enum command_exit
run_file(const struct call *call)
{
	struct capability_options options;
	struct csv_table table = {0};
	const option_set allowed = CAPABILITY_STUDY_OPTIONS |
	                           OPTION_BIT(OPTION_COLUMN) |
	                           OPTION_BIT(OPTION_DECIMAL_COMMA);
	enum command_exit code = command_refuse_options(call, "FILE.csv", allowed);

	if (code == COMMAND_DONE)
		code = capability_options_read(&options, call);
	if (code != COMMAND_DONE)
		return code;
	struct problems *problems = calloc(1, sizeof *problems);
	if (!problems)
		return cannot_for_memory(call);
	struct progress *progress = progress_start(call->err, PROGRESS_AFTER_S);
	code = study_file(call, &options, &table, problems, &progress);
	progress_end(progress);
	session_tell_problems(call, problems);
	csv_table_release(&table);
	free(problems);
	return code;
}

static enum command_exit
run_capability(const struct call *call)
{
	bool file = call->argument_count > 0;
	bool ledger = call->option[OPTION_CHARACTERISTIC] != NULL;

	if (file == ledger)
		return command_usage(call,
		    "'capability' needs FILE.csv, or --characteristic NAME of the "
		    "ledger%s",
		    file ? ", not both" : "");
	if (ledger)
		return capability_ledger_run(call);
	return call->option[OPTION_GAUGE] ? capability_gauge_run(call) : run_file(call);
}

static const struct option_help help[] = {
    {OPTION_LOWER,
	"lower limit, in the unit of the values; of a feature else the set-up's"},
    {OPTION_UPPER, "upper limit, likewise"},
    {OPTION_METHOD,
	"individuals; with --subgroup mean-range or, when left out, mean-sd"},
    {OPTION_RULES, "patterns to look for: names with commas, all or none; a wrong name "
		   "tells them"},
    {OPTION_ZERO_BOUNDED, "cannot fall below zero: indices by percentiles of what "
			  "fits, not by deviations"},
    {OPTION_CHARACTERISTIC, "in place of FILE.csv: this feature in the ledger"},
    {0, NULL},
};

const struct command command_capability = {
    .name = "capability",
    .arguments = "[FILE.csv]",
    .summary = "how well any column of numbers keeps its limits",
    .details =
	"A capability study of one column of a CSV file, in the order of time: old "
	"records kept\nby hand, what other programs wrote.  Its first line names the "
	"columns; comma, semicolon\nor tab is found by itself; an empty cell or nan is "
	"a missing value that keeps its place\n(in a file of one column an empty line "
	"too, but at its end); '-' is the standard input.\nOr of a feature of the "
	"complete shots in the ledger: --characteristic cycle_s --since\n90d; recipe, "
	"tool and lot must be one.  Exits 1 when it is not capable or that is not\n"
	"established.\n\n"
	"Across a gap patterns (--rules) begin anew, EWMA and CUSUM go on where they "
	"were.  Beyond\na line is strictly beyond it; within takes the line itself "
	"in.\n\n"
	"With --gauge, how well parts are measured: exits 1 when measuring has more "
	"than 30 % of\nthe deviation of all measurements, tells fewer than five "
	"classes of parts apart (common\npractice, no source), or cannot be told.",
    .options = CAPABILITY_STUDY_OPTIONS | CAPABILITY_LEDGER_OPTIONS |
               OPTION_BIT(OPTION_COLUMN) | OPTION_BIT(OPTION_DECIMAL_COMMA) |
               OPTION_BIT(OPTION_GAUGE),
    .argument_least = 0,
    .argument_most = 1,
    .csv_table = CAPABILITY_CSV,
    .pages = true,
    .help = help,
    .run = run_capability,
};
