/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Text for people: headings, wrapped sentences, columns that line up.  A table is
 * kept until its end, when the widths are known; so is a run of fields.
 */
#include "cli/page/writer.h"

#include <stdlib.h>
#include <string.h>

#include "cli/page/grid.h"
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
	struct grid table;
	const struct column *columns; /* of the open table; NULL: not for people */
	const char *table_heading;
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

	grid_put_wrapped(page->out, page->colour, TONE_STRONG, heading, &hang);
	fputc('\n', page->out);
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
	grid_add_plain(&plain, sentence);
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
	page->columns = columns;
	page->table_heading = heading;
	grid_start(&page->table, count);
	for (size_t i = 0; i < count; i++) {
		struct cell title =
		    cell_words(columns[i].title ? columns[i].title : "");
		title.tone = TONE_FAINT;
		grid_add(&page->table, &title);
		page->table.columns[i].each = i == 0 || columns[i].block == COLUMN_EACH;
		if (!page->table.columns[i].each)
			page->table.columns[i].block = columns[i].block;
	}
}

static bool
is_for_people(const struct text_page *page)
{
	for (size_t i = 0; i < page->table.column_count; i++)
		if (page->columns[i].title)
			return true;
	return false;
}

static void
text_row(void *state, const struct cell *cells)
{
	struct text_page *page = state;
	static const struct cell nothing = {.kind = CELL_WORDS, .words = ""};

	if (!is_for_people(page))
		return; /* there may be very many */
	for (size_t i = 0; i < page->table.column_count; i++)
		grid_add(&page->table, page->columns[i].title ? &cells[i] : &nothing);
}

void
page_text_across(void *state, enum page_tone tone, const char *sentence)
{
	struct text_page *page = state;
	struct cell cell = cell_words(sentence);

	cell.tone = tone;
	grid_add_across(&page->table, &cell);
}

/* A table without rows is not worth its header. */
static void
text_table_end(void *state)
{
	struct text_page *page = state;
	struct grid *table = &page->table;

	if (table->failed || table->count <= table->column_count ||
	    !is_for_people(page))
		return;
	begin_paragraph(page);
	if (page->table_heading)
		put_heading(page, page->table_heading);
	grid_lay_out(table, 1);
	int blocks = grid_fold(table, page->width);
	grid_put(table, 0, page->out, page->colour, page->width);
	for (int block = 1; block < blocks; block++) {
		fputc('\n', page->out);
		grid_put(table, block, page->out, page->colour, page->width);
	}
	page->spacing = true;
}

static int
text_end(void *state)
{
	struct text_page *page = state;

	flush_fields(page);
	bool failed = page->failed || page->fields.failed || page->table.failed;
	grid_release(&page->fields);
	grid_release(&page->table);
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
	grid_init(&page->table);
	grid_start(&page->fields, 2);
	return page;
}

void
page_text_set_width(void *state, int columns)
{
	struct text_page *page = state;

	page->width = columns;
}

const struct writer page_text_writer = {
    .open = text_open,
    .close = text_close,
    .note = text_note,
    .field = text_field,
    .table = text_table,
    .row = text_row,
    .table_end = text_table_end,
    .end = text_end,
};
