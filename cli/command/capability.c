/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <math.h>
#include <stdlib.h>

#include "cli/command/capability_gauge.h"
#include "cli/command/capability_options.h"
#include "cli/command/capability_put.h"
#include "cli/command/progress.h"
#include "cli/command/session.h"
#include "cli/csv/csv_table.h"
#include "daemon/base/error.h"

#define PROGRESS_AFTER_S 1.0

static enum command_exit
cannot_for_memory(const struct call *call)
{
	struct error error;

	error_set(&error, ERROR_MEMORY, "out of memory");
	return command_cannot(call, &error);
}

static enum command_exit
put_page(const struct call *call, const struct capability_view *view)
{
	struct page *page = command_page(call);

	if (!page)
		return COMMAND_CANNOT;
	if (call->format == PAGE_JSON)
		capability_put_machines(page, view);
	else if (call->format == PAGE_CSV)
		capability_put_row(page, view);
	else
		capability_put_people(page, view);
	return command_end_page(call, page,
	    view->study->verdict == STUDY_CAPABLE ? COMMAND_DONE : COMMAND_NO);
}

static void
tell_rows(void *progress, size_t rows)
{
	progress_tell(progress, "%.1f million rows ...", (double)rows / 1e6);
}

static enum command_exit
study_file(const struct call *call, struct capability_options *options,
    struct csv_table *table, struct problems *problems)
{
	const char *path = call->argument[0];
	struct progress *progress = progress_start(call->err, PROGRESS_AFTER_S);
	const struct csv_table_asked asked = {
	    .column = {call->option[OPTION_COLUMN]},
	    .column_count = 1,
	    .decimal_comma = call->option[OPTION_DECIMAL_COMMA] != NULL,
	    .came = tell_rows,
	    .arg = progress,
	};
	struct study *study = NULL;
	bool read = csv_table_read(table, path, stdin, &asked, problems);

	if (read) {
		options->asked.series =
		    (struct series){.values = table->values, .count = table->count};
		progress_tell(progress, "%zu values ...", table->count);
		study = study_new(&options->asked);
	}
	progress_end(progress);
	if (!read) {
		session_tell_problems(call, problems);
		return COMMAND_CANNOT;
	}
	if (!study)
		return cannot_for_memory(call);
	const struct capability_view view = {
	    .study = study,
	    .asked = &options->asked,
	    .title = table->title,
	    .source = path[0] == '-' && path[1] == '\0' ? "standard input" : path,
	    .unit = "",
	    .scale = 1,
	    .empty_at_end = table->empty_at_end,
	};
	enum command_exit code = put_page(call, &view);
	study_free(study);
	return code;
}

static enum command_exit
run_file(const struct call *call)
{
	struct capability_options options;
	struct csv_table table = {0};
	enum command_exit code = capability_options_read(&options, call);

	if (code != COMMAND_DONE)
		return code;
	struct problems *problems = calloc(1, sizeof *problems);
	code = problems ? study_file(call, &options, &table, problems)
	                : cannot_for_memory(call);
	csv_table_release(&table);
	free(problems);
	return code;
}

static enum command_exit
run_capability(const struct call *call)
{
	if (call->argument_count == 0)
		return command_usage(call, "'capability' needs FILE.csv");
	if (call->option[OPTION_GAUGE])
		return capability_gauge_run(call);
	return run_file(call);
}

const struct command command_capability = {
    .name = "capability",
    .arguments = "FILE.csv",
    .summary = "how well any column of numbers keeps its limits",
    .details =
	"A capability study of one column of a CSV file, in the order of time: the "
	"first "
	"line\nnames the columns; comma, semicolon or tab is found by itself; an empty "
	"cell or nan\nis a missing value that keeps its place; '-' is the standard "
	"input.\nExits 1 when it is not capable, or that is not established.",
    .options = CAPABILITY_STUDY_OPTIONS | OPTION_BIT(OPTION_COLUMN) |
               OPTION_BIT(OPTION_DECIMAL_COMMA) | OPTION_BIT(OPTION_GAUGE),
    .argument_least = 0,
    .argument_most = 1,
    .csv_table = CAPABILITY_CSV,
    .pages = true,
    .run = run_capability,
};
