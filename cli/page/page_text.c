/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Text for people: headings, wrapped sentences, columns that line up.  A table is
 * kept until its end, when the widths are known; so is a run of fields.
 */
#include "cli/page/writer.h"

#include <assert.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/page/utf8.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum {
	TABLE_MAX_BYTES = 64 << 20,
	WRAP_COLUMNS = 88,
};

struct grid_cell {
	size_t at; /* of its NUL-terminated words in the grid's text */
	enum page_tone tone;
	bool right;
};

/* Words by row and column, the header among them. */
struct grid {
	struct text words;
	struct grid_cell *cells;
	size_t count, room, columns;
};

struct text_page {
	FILE *out;
	bool colour, failed;
	bool begun;   /* something stands above */
	bool spacing; /* a table stands right above: fields keep a blank line from it */
	int depth;
	struct grid fields; /* the run of fields that is not yet written */
	struct grid table;
	const struct column *columns; /* of the open table; NULL: not for people */
	const char *table_heading;
	size_t column_count;
};

static const char *
tone_code(enum page_tone tone)
{
	switch (tone) {
	case TONE_PLAIN:
		return "";
	case TONE_STRONG:
		return "\033[1m";
	case TONE_GOOD:
		return "\033[32m";
	case TONE_BAD:
		return "\033[31m";
	case TONE_FAINT:
		return "\033[2m";
	}
	return "";
}

static void
put_toned(struct text_page *page, enum page_tone tone, const char *words)
{
	bool toned = page->colour && tone != TONE_PLAIN && *words;

	if (toned)
		fputs(tone_code(tone), page->out);
	fputs(words, page->out);
	if (toned)
		fputs("\033[0m", page->out);
}

static void
put_blanks(struct text_page *page, int count)
{
	if (count > 0)
		fprintf(page->out, "%*s", count, "");
}

/* --- a grid ----------------------------------------------------------------- */

static void
grid_reset(struct grid *grid, size_t columns)
{
	text_clear(&grid->words);
	grid->count = 0;
	grid->columns = columns;
}

/* Control characters of a name must not reach a terminal. */
static void
add_plain(struct text *text, const char *words)
{
	const char *from = words;
	uint32_t point;

	while ((point = utf8_next(&words)) != 0) {
		bool control = point < 0x20 || (point >= 0x7f && point < 0xa0);
		if (control || point == 0xfffd)
			text_puts(text, "?");
		else
			text_add(text, from, (size_t)(words - from));
		from = words;
	}
}

static void
add_number(struct text *text, double shown, int digits)
{
	if (!isfinite(shown)) {
		text_puts(text, "-");
		return;
	}
	/* no "-0.0" */
	if (fabs(shown) < 0.5 * pow(10, -digits))
		shown = 0;
	text_printf(text, "%.*f", digits, shown);
}

static void
add_shown(struct text *text, const struct cell *cell)
{
	char time[CALENDAR_TEXT];

	if (cell->instead) {
		add_plain(text, cell->instead);
		return;
	}
	switch (cell->kind) {
	case CELL_ABSENT:
		add_plain(text, cell->words ? cell->words : "-");
		return;
	case CELL_WORDS:
		add_plain(text, cell->words);
		return;
	case CELL_NUMBER:
		add_number(text, cell->shown, cell->digits);
		return;
	case CELL_COUNT:
		text_printf(text, "%" PRId64, cell->count);
		return;
	case CELL_TRUTH:
		text_puts(text, cell->truth ? "yes" : "no");
		return;
	case CELL_TIME:
		calendar_local_text(cell->time, time);
		text_puts(text, time);
		return;
	}
}

static bool
grid_add(struct grid *grid, const struct cell *cell)
{
	if (grid->count == grid->room) {
		size_t room = grid->room ? grid->room * 2 : 64;
		struct grid_cell *cells =
		    reallocarray(grid->cells, room, sizeof *cells);
		if (!cells)
			return false;
		grid->cells = cells;
		grid->room = room;
	}
	grid->cells[grid->count++] = (struct grid_cell){
	    .at = grid->words.length,
	    .tone = cell->tone,
	    .right = cell->kind == CELL_NUMBER || cell->kind == CELL_COUNT,
	};
	add_shown(&grid->words, cell);
	text_add(&grid->words, "", 1);
	return !grid->words.failed;
}

static const char *
grid_words(const struct grid *grid, size_t i)
{
	return grid->words.bytes + grid->cells[i].at;
}

struct layout {
	int width;
	bool right, shown;
};

/* The widths; a column of nothing but empty words is not shown.  `header` rows at the top
 * do not count for that. */
static void
lay_out(const struct grid *grid, size_t header, struct layout *layout)
{
	memset(layout, 0, grid->columns * sizeof *layout);
	for (size_t i = 0; i < grid->count; i++) {
		struct layout *column = &layout[i % grid->columns];
		int width = utf8_width(grid_words(grid, i));
		if (width > column->width)
			column->width = width;
		if (i / grid->columns < header)
			continue;
		if (width > 0)
			column->shown = true;
		if (grid->cells[i].right)
			column->right = true;
	}
}

/* One row, of the columns for which `use` is true. */
static void
put_row(struct text_page *page, const struct grid *grid, size_t row,
    const struct layout *layout, const bool *use)
{
	int owed = 2; /* blanks to write before the next words: none at a line's end */

	for (size_t c = 0; c < grid->columns; c++) {
		size_t i = row * grid->columns + c;
		if (!use[c] || !layout[c].shown)
			continue;
		const char *words = grid_words(grid, i);
		int spare = layout[c].width - utf8_width(words);
		if (layout[c].right)
			owed += spare;
		if (*words) {
			put_blanks(page, owed);
			put_toned(page, grid->cells[i].tone, words);
			owed = 0;
		}
		owed += layout[c].right ? 2 : spare + 2;
	}
	fputc('\n', page->out);
}

/* --- the page ---------------------------------------------------------------- */

static void
flush_fields(struct text_page *page)
{
	static const bool both[] = {true, true};
	struct layout layout[2];

	if (page->fields.count == 0 || page->failed)
		return;
	lay_out(&page->fields, 0, layout);
	layout[1].right = false;
	for (size_t row = 0; row < page->fields.count / 2; row++)
		put_row(page, &page->fields, row, layout, both);
	grid_reset(&page->fields, 2);
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
text_open(void *state, enum page_group group, const char *key, const char *heading)
{
	struct text_page *page = state;

	(void)group, (void)key;
	if (heading) {
		begin_paragraph(page);
		put_toned(page, TONE_STRONG, heading);
		fputc('\n', page->out);
		for (int i = utf8_width(heading); i > 0; i--)
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
	int column = 0;

	(void)key;
	flush_fields(page);
	text_init(&plain, TABLE_MAX_BYTES);
	add_plain(&plain, sentence);
	char *rest = plain.bytes, *word;
	page->begun = true;
	while (rest && (word = strsep(&rest, " ")) != NULL) {
		int width = utf8_width(word);
		if (column > 0 && column + 1 + width > WRAP_COLUMNS) {
			fputs("\n  ", page->out);
			column = 2;
		} else if (column > 0) {
			fputc(' ', page->out);
			column++;
		}
		put_toned(page, tone, word);
		column += width;
	}
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
	if (!grid_add(&page->fields, &title) || !grid_add(&page->fields, cell))
		page->failed = true;
}

static void
text_table(void *state, const char *key, const char *heading,
    const struct column *columns, size_t count)
{
	struct text_page *page = state;
	bool wanted = false;

	(void)key;
	assert(count <= WRITER_COLUMNS);
	for (size_t i = 0; i < count; i++)
		wanted |= columns[i].title != NULL;
	if (!wanted)
		return;
	page->columns = columns;
	page->table_heading = heading;
	page->column_count = count;
	grid_reset(&page->table, count);
	for (size_t i = 0; i < count; i++) {
		struct cell title =
		    cell_words(columns[i].title ? columns[i].title : "");
		title.tone = TONE_FAINT;
		page->failed |= !grid_add(&page->table, &title);
	}
}

static void
text_row(void *state, const struct cell *cells)
{
	struct text_page *page = state;
	static const struct cell nothing = {.kind = CELL_WORDS, .words = ""};

	for (size_t i = 0; page->columns && i < page->column_count; i++)
		page->failed |= !grid_add(
		    &page->table, page->columns[i].title ? &cells[i] : &nothing);
}

static void
put_block(struct text_page *page, int block, const struct layout *layout)
{
	bool use[WRITER_COLUMNS];
	bool any = false;

	for (size_t i = 0; i < page->column_count; i++) {
		bool own = page->columns[i].block == block;
		use[i] = own || i == 0;
		any |= own && layout[i].shown;
	}
	if (!any)
		return;
	if (block > 0)
		fputc('\n', page->out);
	for (size_t row = 0; row < page->table.count / page->table.columns; row++)
		put_row(page, &page->table, row, layout, use);
}

/* A table without rows is not worth its header. */
static void
text_table_end(void *state)
{
	struct text_page *page = state;
	struct layout layout[WRITER_COLUMNS];
	bool empty = page->table.count <= page->column_count;
	int last = 0;

	if (!page->columns || page->failed || empty) {
		page->columns = NULL;
		return;
	}
	begin_paragraph(page);
	if (page->table_heading) {
		put_toned(page, TONE_STRONG, page->table_heading);
		fputc('\n', page->out);
	}
	lay_out(&page->table, 1, layout);
	for (size_t i = 0; i < page->column_count; i++)
		if (page->columns[i].block > last)
			last = page->columns[i].block;
	for (int block = 0; block <= last; block++)
		put_block(page, block, layout);
	page->columns = NULL;
	page->spacing = true;
}

static int
text_end(void *state)
{
	struct text_page *page = state;
	bool failed;

	flush_fields(page);
	failed = page->failed;
	text_release(&page->fields.words);
	text_release(&page->table.words);
	free(page->fields.cells);
	free(page->table.cells);
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
	text_init(&page->fields.words, TABLE_MAX_BYTES);
	text_init(&page->table.words, TABLE_MAX_BYTES);
	grid_reset(&page->fields, 2);
	return page;
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
