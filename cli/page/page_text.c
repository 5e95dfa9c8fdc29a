/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Text for people: headings, wrapped sentences, columns that line up.  A table is
 * kept until its end, when the widths are known; so is a run of fields.
 */
#include "cli/page/writer.h"

#include <stdlib.h>
#include <string.h>

#include "cli/page/cell.h"
#include "cli/page/table.h"
#include "cli/page/width.h"
#include "daemon/base/error.h"

enum {
	SENTENCE_MAX_BYTES = 1 << 16,
};

struct text_page {
	FILE *out;
	bool colour, failed;
	int width;    /* of sentences and tables */
	bool begun;   /* something stands above */
	bool spacing; /* a table stands right above: fields keep a blank line from it */
	int depth;    /* of headings */
	struct grid fields; /* the run of them that is not yet written */
	struct table table;
};

static void
flush_fields(struct text_page *page)
{
	if (page->fields.count > 0 && !page->fields.failed) {
		grid_lay_out(&page->fields, 0);
		page->fields.columns[1].right = false; /* values of all kinds */
		grid_put(&page->fields, 0, page->out, page->colour, page->width);
	}
	grid_start(&page->fields, 2);
}

/* A blank line between one thing and the next, none at the top. */
static void
begin_paragraph(struct text_page *page)
{
	flush_fields(page);
	if (page->begun)
		fputc('\n', page->out);
	page->begun = true;
	page->spacing = false;
}

static void
put_heading(struct text_page *page, const char *heading)
{
	const struct hang hang = {0, 0, page->width};
	struct text plain;

	text_init(&plain, SENTENCE_MAX_BYTES);
	cell_add_plain(&plain, heading);
	grid_put_wrapped(page->out, page->colour, TONE_STRONG,
	    plain.bytes ? plain.bytes : "", &hang);
	fputc('\n', page->out);
	text_release(&plain);
}

static void
text_open(void *state, enum page_group group, const char *key, const char *heading)
{
	struct text_page *page = state;

	(void)group, (void)key;
	if (heading) {
		begin_paragraph(page);
		put_heading(page, heading);
		int line = width_of(heading);
		for (int i = line < page->width ? line : page->width; i > 0; i--)
			fputc(page->depth == 0 ? '=' : '-', page->out);
		fputc('\n', page->out);
	}
	page->depth += heading || page->depth > 0;
}

static void
text_close(void *state)
{
	struct text_page *page = state;

	flush_fields(page);
	page->depth -= page->depth > 0;
}

static void
text_note(void *state, const char *key, enum page_tone tone, const char *sentence)
{
	struct text_page *page = state;
	struct text plain;
	const struct hang hang = {0, 2, page->width};

	(void)key;
	flush_fields(page);
	text_init(&plain, SENTENCE_MAX_BYTES);
	cell_add_plain(&plain, sentence);
	page->begun = true;
	if (plain.bytes)
		grid_put_wrapped(page->out, page->colour, tone, plain.bytes, &hang);
	fputc('\n', page->out);
	page->failed |= plain.failed;
	text_release(&plain);
}

static void
text_field(void *state, const char *key, const char *label, const struct cell *cell)
{
	struct text_page *page = state;
	struct cell title = cell_words(label);

	(void)key;
	if (!label)
		return;
	if (page->spacing)
		begin_paragraph(page);
	page->begun = true;
	grid_add(&page->fields, &title);
	grid_add(&page->fields, cell);
}

static void
text_table(void *state, const char *key, const char *heading,
    const struct column *columns, size_t count)
{
	struct text_page *page = state;

	(void)key;
	table_start(&page->table, heading, columns, count);
}

static void
text_row(void *state, const struct cell *cells)
{
	struct text_page *page = state;

	table_row(&page->table, cells);
}

static void
text_across(void *state, enum page_tone tone, const char *sentence)
{
	struct text_page *page = state;

	table_across(&page->table, tone, sentence);
}

/* A table without rows is not worth its header. */
static void
text_table_end(void *state)
{
	struct text_page *page = state;
	struct grid *grid = &page->table.grid;

	if (!table_end(&page->table))
		return;
	begin_paragraph(page);
	if (page->table.heading)
		put_heading(page, page->table.heading);
	int blocks = grid_fold(grid, page->width);
	grid_put(grid, 0, page->out, page->colour, page->width);
	for (int block = 1; block < blocks; block++) {
		fputc('\n', page->out);
		grid_put(grid, block, page->out, page->colour, page->width);
	}
	page->spacing = true;
}

static void
text_list(void *state, const char *key, const char *label, const struct cell *cells,
    size_t count)
{
	struct text_page *page = state;
	struct text words;

	text_init(&words, SENTENCE_MAX_BYTES);
	cell_add_list(&words, cells, count);
	page->failed |= words.failed;
	const struct cell cell = cell_words(words.bytes);
	text_field(state, key, label, &cell);
	text_release(&words);
}

static void
text_set_width(void *state, int columns)
{
	struct text_page *page = state;

	page->width = columns;
}

static int
text_end(void *state)
{
	struct text_page *page = state;

	flush_fields(page);
	bool failed = page->failed || page->fields.failed || page->table.grid.failed;
	grid_release(&page->fields);
	table_release(&page->table);
	free(page);
	return failed ? ERROR_MEMORY : 0;
}

void *
page_text_new(FILE *out, bool colour)
{
	struct text_page *page = calloc(1, sizeof *page);

	if (!page)
		return NULL;
	page->out = out;
	page->colour = colour;
	page->width = PAGE_WIDTH;
	grid_init(&page->fields);
	table_init(&page->table);
	grid_start(&page->fields, 2);
	return page;
}

const struct writer page_text_writer = {
    .open = text_open,
    .close = text_close,
    .note = text_note,
    .field = text_field,
    .table = text_table,
    .row = text_row,
    .across = text_across,
    .table_end = text_table_end,
    .list = text_list,
    .set_width = text_set_width,
    .end = text_end,
};
