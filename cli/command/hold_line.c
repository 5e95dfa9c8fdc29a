/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/hold_line.h"

#include <stdlib.h>

#include "daemon/base/error.h"

enum { FURTHER = 4 }; /* times as far back */

static int
no_memory(struct error *error)
{
	return error_set(error, ERROR_MEMORY, "out of memory: say a shorter time");
}

/* What the judgement is made of; the findings stay. */
static void
forget(struct hold_line *line)
{
	suspect_runs_release(&line->runs);
	suspects_release(&line->suspects);
	free(line->told.list);
	line->told = (struct hold_told){0};
	hold_read_release(&line->read);
}

void
hold_line_release(struct hold_line *line)
{
	forget(line);
	found_release(&line->found);
}

static int
find(struct hold_line *line, const struct hold_line_asked *asked, struct error *error)
{
	int index = settings_find_line(asked->session->settings, line->name);
	const struct found_asked about = {index, asked->span->from, asked->span->to,
	    asked->call->option[OPTION_REFERENCE]};

	if (!asked->call->option[OPTION_FINDINGS] || index < 0)
		return 0;
	return found_read_span(&line->found, asked->session, &about, error);
}

static bool
judge(struct hold_line *line)
{
	line->told.room = line->read.gaps.count + FOUND_MOST * line->found.count;
	line->told.list = calloc(line->told.room + 1, sizeof *line->told.list);
	return line->told.list && suspects_judge(&line->suspects, &line->asked) &&
	       suspects_add_lacking(&line->suspects, &line->read.lacking) &&
	       hold_told_gaps(&line->suspects, &line->read, &line->told) &&
	       hold_told_found(&line->suspects, &line->found, &line->told) &&
	       suspects_bound(&line->suspects, &line->runs);
}

static int
read_and_judge(struct hold_line *line, const struct hold_line_asked *asked, size_t back,
    struct error *error)
{
	const struct hold_asked wanted = {
	    line->name, asked->span->from, asked->span->to, back, asked->features};
	int code = hold_read(&line->read, asked->session->source, &wanted, error);

	if (code != 0 || line->read.none)
		return code;
	line->asked = (struct suspect_asked){
	    .settings = asked->session->settings,
	    .feature = asked->feature,
	    .lower = asked->lower,
	    .upper = asked->upper,
	    .shots = line->read.shots,
	    .count = line->read.count,
	    .first = line->read.first,
	    .last = line->read.last,
	    .unstable = asked->call->option[OPTION_UNSTABLE] != NULL,
	};
	return judge(line) ? 0 : no_memory(error);
}

/* Whether a good one may lie further back than was looked. */
static bool
is_cut(const struct hold_line *line, size_t back)
{
	const struct hold_read *read = &line->read;
	size_t further = FURTHER * back;

	return line->runs.count > 0 && line->runs.list[0].last_good == SUSPECT_NONE &&
	       read->more && further <= HOLD_BACK_MOST &&
	       read->count - read->back + further <= HOLD_MOST;
}

static bool
count(struct hold_line *line)
{
	bool done = true;

	for (size_t i = 0; i < line->runs.count && done; i++) {
		const struct suspect_run *run = &line->runs.list[i];
		struct ranges numbers = {0};
		done = suspect_run_numbers(&line->suspects, run, &numbers);
		line->held += ranges_numbers(&numbers);
		line->held_before += suspect_run_before(&line->suspects, run);
		ranges_release(&numbers);
	}
	return done;
}

int
hold_line_judge(struct hold_line *line, const struct hold_line_asked *asked,
    const char *name, struct error *error)
{
	size_t back = HOLD_BESIDE;

	line->name = name;
	int code = find(line, asked, error);
	if (code == 0)
		code = read_and_judge(line, asked, back, error);
	while (code == 0 && is_cut(line, back)) {
		forget(line);
		back *= FURTHER;
		code = read_and_judge(line, asked, back, error);
	}
	if (code != 0 || line->read.none)
		return code;
	line->shots = (int64_t)(line->read.last - line->read.first + 1);
	return count(line) ? 0 : no_memory(error);
}
