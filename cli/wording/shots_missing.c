/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/wording/shots_missing.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { SENTENCE = 256 };

/* --- finding ------------------------------------------------------------------------ */

/* NULL when there is none. */
static struct shots_missing_line *
find_line(const struct shots_missing *all, const char *line)
{
	for (size_t i = 0; i < all->count; i++)
		if (strcmp(all->lines[i].line, line) == 0)
			return &all->lines[i];
	return NULL;
}

static bool
add_shot(struct shots_missing *all, const struct ledger_shot *shot)
{
	struct shots_missing_line *line = find_line(all, shot->line);

	if (!line) {
		line = reallocarray(all->lines, all->count + 1, sizeof *line);
		if (!line)
			return false;
		all->lines = line;
		line += all->count++;
		*line = (struct shots_missing_line){0};
		text_copy(line->line, sizeof line->line, shot->line);
	}
	return lacking_add(&line->missing, shot);
}

int
shots_missing_find(struct shots_missing *all, struct source *source,
    const struct ledger_shot *shots, size_t count, const struct lacking_asked *asked,
    struct error *error)
{
	int code = 0;

	*all = (struct shots_missing){0};
	for (size_t i = 0; i < count; i++)
		if (!add_shot(all, &shots[i]))
			return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < all->count && code == 0; i++) {
		struct lacking_asked own = *asked;
		own.line = all->lines[i].line;
		code = lacking_find(&all->lines[i].missing, source, &own, error);
	}
	return code;
}

void
shots_missing_release(struct shots_missing *all)
{
	for (size_t i = 0; i < all->count; i++)
		lacking_release(&all->lines[i].missing);
	free(all->lines);
	*all = (struct shots_missing){0};
}

/* --- telling ------------------------------------------------------------------------- */

static void
add_words(struct text *words, const struct lacking_run *run, const char *where)
{
	if (run->renumbered)
		text_printf(words,
		    "numbers go on from %" PRId64 " (a copy of the ledger was put "
		    "back)",
		    run->last + 1);
	else if (run->first == run->last)
		text_printf(words, "shot %" PRId64 " is not in %s", run->first, where);
	else
		text_printf(words, "shots %" PRId64 "-%" PRId64 " are not in %s",
		    run->first, run->last, where);
}

void
shots_missing_across(struct shots_missing *all, const struct ledger_shot *shot,
    bool named, const struct source *source, struct page *page)
{
	struct shots_missing_line *line = find_line(all, shot->line);

	for (; line && line->told < line->missing.run_count; line->told++) {
		const struct lacking_run *run = &line->missing.runs[line->told];
		struct text words;
		if (run->last >= shot->shot_no)
			return;
		text_init(&words, SENTENCE);
		text_printf(
		    &words, "-- %s%s", named ? shot->line : "", named ? ": " : "");
		add_words(&words, run, lacking_where(source));
		text_puts(&words, " --");
		if (words.bytes)
			page_across(
			    page, run->renumbered ? TONE_PLAIN : TONE_BAD, words.bytes);
		text_release(&words);
	}
}

/* With the line unless it is NULL. */
static void
put_runs(const struct lacking *missing, const char *line, struct page *page)
{
	for (size_t i = 0; i < missing->run_count; i++) {
		const struct lacking_run *run = &missing->runs[i];
		const struct cell cells[] = {
		    cell_words(line),
		    cell_count(run->first),
		    cell_count(run->last),
		    cell_count(run->last - run->first + 1),
		};
		if (!run->renumbered)
			page_row(page, line ? cells : cells + 1);
	}
}

static const struct column columns[] = {
    {"line", NULL, 0},
    {"first_shot_no", NULL, 0},
    {"last_shot_no", NULL, 0},
    {"shots", NULL, 0},
};
enum { COLUMNS = sizeof columns / sizeof columns[0] };

void
shots_missing_put(const struct shots_missing *all, struct page *page)
{
	page_table(page, "missing", NULL, columns, COLUMNS);
	for (size_t i = 0; i < all->count; i++)
		put_runs(&all->lines[i].missing, all->lines[i].line, page);
	page_table_end(page);
}

void
shots_missing_put_runs(const struct lacking *missing, struct page *page)
{
	page_table(page, "missing", NULL, columns + 1, COLUMNS - 1);
	put_runs(missing, NULL, page);
	page_table_end(page);
}
