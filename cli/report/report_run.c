/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_run.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/population/kin.h"
#include "cli/report/report_lots.h"
#include "cli/report/report_marks.h"
#include "cli/report/report_moved.h"
#include "cli/report/report_oven.h"
#include "cli/report/report_picture.h"
#include "cli/report/report_tool.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"

/* All figures of the last shots of a line. */
struct wide {
	struct population_features features;
	struct populations all;
	struct runs runs;
};

static bool
is_asked(const struct report_line *line)
{
	if (line->pictures || line->machine)
		return true;
	for (size_t i = 0; i < line->runs.count; i++)
		if (report_moved_is_asked(line, &line->runs.list[i]))
			return true;
	return false;
}

/* When the last RUN_WIDE_SHOTS of all runs begin; ns 0: they are all. */
static struct wall
wide_from(const struct report_line *line)
{
	struct wall from = line->from;

	for (size_t i = 0; i < line->runs.count; i++) {
		const struct run *run = &line->runs.list[i];
		if (run->count <= RUN_WIDE_SHOTS)
			continue;
		struct wall at = run_shot_at(run, run->count - RUN_WIDE_SHOTS);
		if (at.ns > from.ns)
			from = at;
	}
	return from;
}

static int
wide_read(struct wide *wide, const struct report_line *line, struct error *error)
{
	const struct population_asked asked = {
	    line->line, wide_from(line), line->to, &wide->features};

	*wide = (struct wide){.features.count = 0};
	if (line->runs.count == 0 || !is_asked(line))
		return 0;
	kin_add_inputs(&wide->features, line->layout);
	judgement_features(line->settings, &wide->features);
	int code = populations_read_chosen(
	    &wide->all, line->source, &asked, &line->chosen, error);
	return code == 0 ? runs_make(&wide->runs, &wide->all, error) : code;
}

static void
wide_release(struct wide *wide)
{
	runs_release(&wide->runs);
	populations_release(&wide->all);
}

/* Of the same recipe and tool; without shots when there is none. */
static struct run
wide_run(const struct wide *wide, const struct run *run)
{
	struct run none = {.count = 0};

	for (size_t i = 0; i < wide->runs.count; i++)
		if (strcmp(wide->runs.list[i].recipe, run->recipe) == 0 &&
		    strcmp(wide->runs.list[i].tool, run->tool) == 0)
			return run_tail(&wide->runs.list[i], RUN_WIDE_SHOTS);
	return none;
}

/* --- one run --------------------------------------------------------------------------- */

/* What is to be known of all pictures. */
static void
put_picture_words(const struct report_line *line, const struct run *run,
    const struct report_marks *marks)
{
	if (run->lots > 1)
		page_note(line->page, NULL, TONE_FAINT,
		    "Each of the %zu lots is judged on its own, so the pictures have "
		    "no control limits and no curve over all of them: --lot shows "
		    "those of one.",
		    run->lots);
	if (run->count > PICTURE_SHOTS)
		page_note(line->page, NULL, TONE_FAINT,
		    "The last %d of %zu complete shots are drawn; limits, curve and "
		    "verdicts are of all.",
		    PICTURE_SHOTS, run->count);
	if (marks->left_out > 0)
		page_note(line->page, NULL, TONE_FAINT,
		    "%zu more changes and notes are not marked.", marks->left_out);
}

static int
put_pictures(const struct report_line *line, const struct run *run, struct error *error)
{
	const struct judgement *over = line->over[run - line->runs.list];
	const struct run shown = run_tail(run, PICTURE_SHOTS);
	struct report_marks *marks = calloc(1, sizeof *marks);

	if (!marks)
		return error_set(error, ERROR_MEMORY, "out of memory");
	int code = report_marks_make(marks, line, &shown, error);
	if (over->limited_count > 0)
		put_picture_words(line, run, marks);
	for (size_t i = 0; i < over->limited_count && code == 0; i++)
		code = report_picture_put(line, run, &over->limited[i], marks, error);
	free(marks);
	return code;
}

static void
put_labels(const struct report_line *line, const struct run *run)
{
	page_field(line->page, "recipe", NULL, shown_name(run->recipe));
	page_field(line->page, "tool", NULL, shown_name(run->tool));
	page_field(line->page, "complete", NULL, cell_count((int64_t)run->count));
	page_field(line->page, "lots", NULL, cell_count((int64_t)run->lots));
	page_field(line->page, "first_filed_at", NULL, cell_time(run_shot_at(run, 0)));
	page_field(line->page, "last_filed_at", NULL,
	    cell_time(run_shot_at(run, run->count - 1)));
}

/* Whether people read anything of it. */
static bool
is_shown(const struct report_line *line, const struct run *run)
{
	return line->pictures || run->lots > 1 || report_moved_is_asked(line, run);
}

static int
put_run(const struct report_line *line, const struct run *run, const struct wide *wide,
    const struct report_reference *reference, struct error *error)
{
	char heading[3 * LEDGER_NAME + 64], lots[32] = "";
	const struct run all_figures = wide_run(wide, run);
	bool drawn = line->pictures && run - line->runs.list < RUNS_DRAWN;
	int code = 0;

	if (run->lots > 1)
		snprintf(lots, sizeof lots, " of %zu lots", run->lots);
	snprintf(heading, sizeof heading, "Recipe %s, tool %s: %zu complete shot%s%s",
	    *run->recipe ? run->recipe : "unknown", *run->tool ? run->tool : "unknown",
	    run->count, run->count == 1 ? "" : "s", lots);
	page_open(line->page, GROUP_ITEM, NULL, is_shown(line, run) ? heading : NULL);
	put_labels(line, run);
	if (drawn)
		code = put_pictures(line, run, error);
	/* neither is of a characteristic */
	if (code == 0 && drawn && line->characteristic < 0)
		code = report_tool_put(line, run, &all_figures, error);
	if (code == 0)
		code = report_moved_put(line, run, &all_figures, error);
	if (code == 0)
		code = report_lots_put(line, run, error);
	if (code == 0 && (drawn || line->machine) && line->characteristic < 0)
		code = report_oven_put(line, run, reference, error);
	if (line->pictures && !drawn)
		page_note(line->page, NULL, TONE_PLAIN,
		    "Pictures are drawn of the first %d recipes and tools only: ask "
		    "for "
		    "a shorter time to see this one.",
		    RUNS_DRAWN);
	page_close(line->page);
	return code;
}

int
report_runs_put(const struct report_line *line,
    const struct report_reference *references, struct error *error)
{
	struct wide wide;
	int code = wide_read(&wide, line, error);

	page_open(line->page, GROUP_LIST, "runs", NULL);
	for (size_t i = 0; i < line->runs.count && code == 0; i++)
		code = put_run(line, &line->runs.list[i], &wide, &references[i], error);
	page_close(line->page);
	wide_release(&wide);
	return code;
}
