/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_line.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"

bool
report_line_is_of(const struct run *run, const struct population *population)
{
	return population->complete.count > 0 &&
	       strcmp(run->recipe, population->recipe) == 0 &&
	       strcmp(run->tool, population->tool) == 0;
}

const struct judgement *
report_line_judgement(
    const struct report_line *line, const struct population *population)
{
	return line->judgements[population - line->all->list];
}

size_t
report_line_limited(const struct report_line *line, const struct run *run)
{
	return report_line_judgement(line, run->shots[0].population)->limited_count;
}

static int
judge_populations(struct report_line *line, struct error *error)
{
	const struct populations *all = line->all;

	line->judgements = calloc(all->count + 1, sizeof(void *));
	if (!line->judgements)
		return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < all->count; i++) {
		if (all->list[i].complete.count == 0)
			continue;
		line->judgements[i] = judgement_new(line->settings, &all->list[i]);
		if (!line->judgements[i])
			return error_set(error, ERROR_MEMORY, "out of memory");
		if (line->characteristic >= 0)
			judgement_keep(line->judgements[i], line->characteristic);
	}
	return 0;
}

/* A run of one lot is that population, judged already. */
static bool
is_own(const struct report_line *line, size_t i)
{
	return line->runs.list[i].lots > 1;
}

static int
judge_runs(struct report_line *line, struct error *error)
{
	line->over = calloc(line->runs.count + 1, sizeof(void *));
	if (!line->over)
		return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < line->runs.count; i++) {
		const struct run *run = &line->runs.list[i];
		const struct population *first = run->shots[0].population;
		line->over[i] = is_own(line, i)
		                    ? judgement_of_run(line->settings, run)
		                    : line->judgements[first - line->all->list];
		if (!line->over[i])
			return error_set(error, ERROR_MEMORY, "out of memory");
		if (is_own(line, i) && line->characteristic >= 0)
			judgement_keep(line->over[i], line->characteristic);
	}
	return 0;
}

int
report_line_judge(struct report_line *line, struct error *error)
{
	line->judgements = NULL;
	line->over = NULL;
	line->runs = (struct runs){0};
	int code = judge_populations(line, error);
	if (code == 0)
		code = runs_make(&line->runs, line->all, error);
	return code == 0 && (line->pictures || line->machine) ? judge_runs(line, error)
	                                                      : code;
}

void
report_line_release(struct report_line *line)
{
	for (size_t i = 0; line->over && i < line->runs.count; i++)
		if (is_own(line, i))
			judgement_free(line->over[i]);
	free(line->over);
	line->over = NULL;
	runs_release(&line->runs);
	for (size_t i = 0; line->judgements && i < line->all->count; i++)
		judgement_free(line->judgements[i]);
	free(line->judgements);
	line->judgements = NULL;
}
