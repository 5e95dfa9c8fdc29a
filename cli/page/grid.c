/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/grid.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "cli/page/cell.h"
#include "cli/page/width.h"

enum { GRID_MAX_BYTES = 64 << 20 };

/* The column that is wrapped. */
struct margin {
	size_t column; /* SIZE_MAX: none */
	struct hang hang;
	struct hang across; /* of a sentence between rows */
};

/* --- words ----------------------------------------------------------------------- */

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
put_toned(FILE *out, bool colour, enum page_tone tone, const char *words, size_t length)
{
	bool toned = colour && tone != TONE_PLAIN && length > 0;

	if (toned)
		fputs(tone_code(tone), out);
	fwrite(words, 1, length, out);
	if (toned)
		fputs("\033[0m", out);
}

void
grid_put_toned(FILE *out, bool colour, enum page_tone tone, const char *words)
{
	put_toned(out, colour, tone, words, strlen(words));
}

void
grid_put_wrapped(FILE *out, bool colour, enum page_tone tone, const char *words,
    const struct hang *hang)
{
	int from = hang->first;
	size_t length;

	while ((length = width_line(words, hang->width - from)) > 0) {
		put_toned(out, colour, tone, words, length);
		words += length;
		words += strspn(words, " ");
		from = hang->indent;
		if (*words)
			fprintf(out, "\n%*s", from, "");
	}
}

/* --- the grid ---------------------------------------------------------------------- */

static int
terminal_width_of(void *state, const char *words, enum page_tone tone)
{
	(void)state, (void)tone;
	return width_of(words);
}

static const struct grid_ruler terminal_ruler = {
    .width_of = terminal_width_of, .gap = 2, .wrap_least = GRID_WRAP_LEAST};

void
grid_init(struct grid *grid)
{
	*grid = (struct grid){.ruler = &terminal_ruler};
	text_init(&grid->words, GRID_MAX_BYTES);
}

void
grid_release(struct grid *grid)
{
	text_release(&grid->words);
	free(grid->cells);
	grid_init(grid);
}

void
grid_start(struct grid *grid, size_t column_count)
{
	assert(column_count <= WRITER_COLUMNS);
	text_clear(&grid->words);
	memset(grid->columns, 0, sizeof grid->columns);
	grid->count = 0;
	grid->column_count = column_count;
}

void
grid_add(struct grid *grid, const struct cell *cell)
{
	if (grid->count == grid->room) {
		size_t room = grid->room ? grid->room * 2 : 64;
		struct grid_cell *cells =
		    reallocarray(grid->cells, room, sizeof *cells);
		if (!cells) {
			grid->failed = true;
			return;
		}
		grid->cells = cells;
		grid->room = room;
	}
	grid->cells[grid->count++] = (struct grid_cell){
	    .at = grid->words.length,
	    .tone = cell->tone,
	    .right = cell->kind == CELL_NUMBER || cell->kind == CELL_COUNT,
	};
	cell_add_shown(&grid->words, cell);
	text_add(&grid->words, "", 1);
	grid->failed |= grid->words.failed;
}

void
grid_add_across(struct grid *grid, const struct cell *cell)
{
	const struct cell nothing = cell_words("");
	size_t at = grid->count;

	grid_add(grid, cell);
	for (size_t i = 1; i < grid->column_count; i++)
		grid_add(grid, &nothing);
	if (at < grid->count)
		grid->cells[at].across = true;
}

size_t
grid_rows(const struct grid *grid)
{
	return grid->count / grid->column_count;
}

const char *
grid_words(const struct grid *grid, size_t row, size_t column)
{
	return grid->words.bytes + grid->cells[row * grid->column_count + column].at;
}

void
grid_lay_out(struct grid *grid, size_t header)
{
	for (size_t i = 0; !grid->failed && i < grid->count; i++) {
		struct grid_column *column = &grid->columns[i % grid->column_count];
		const struct grid_cell *cell = &grid->cells[i];
		int width = cell->across
		                ? 0
		                : grid->ruler->width_of(grid->ruler->state,
				      grid->words.bytes + cell->at, cell->tone);
		if (width > column->width)
			column->width = width;
		if (i / grid->column_count < header)
			continue;
		column->shown |= width > 0;
		column->right |= cell->right;
	}
}

bool
grid_is_put(const struct grid *grid, size_t c, int block)
{
	const struct grid_column *column = &grid->columns[c];

	return column->shown && (column->each || column->block == block);
}

/* Where no column of the block is right of it. */
static bool
is_last(const struct grid *grid, size_t c)
{
	for (size_t i = c + 1; i < grid->column_count; i++)
		if (grid->columns[i].shown &&
		    grid->columns[i].block == grid->columns[c].block)
			return false;
	return true;
}

/* Of the columns that stand before each block. */
static int
lead_width(const struct grid *grid)
{
	int width = 0;

	for (size_t c = 0; c < grid->column_count; c++)
		if (grid->columns[c].each && grid->columns[c].shown)
			width += grid->ruler->gap + grid->columns[c].width;
	return width;
}

int
grid_fold(struct grid *grid, int width)
{
	const int lead = lead_width(grid);
	int more = 0, before = 0, end = lead, last = 0;
	bool begun = false; /* the block has a column of its own */

	for (size_t c = 0; c < grid->column_count; c++) {
		struct grid_column *column = &grid->columns[c];
		int room = grid->ruler->gap + column->width;
		if (column->each)
			continue;
		if (column->block != before) {
			end = lead;
			begun = false;
		}
		before = column->block;
		if (column->shown && !column->right && is_last(grid, c) &&
		    column->width > grid->ruler->wrap_least)
			/* it can be wrapped */
			room = grid->ruler->gap + grid->ruler->wrap_least;
		if (column->shown && begun && end + room > width) {
			more++;
			end = lead;
		}
		if (column->shown) {
			end += room;
			begun = true;
		}
		column->block += more;
		last = column->block > last ? column->block : last;
	}
	return last + 1;
}

bool
grid_is_row_put(const struct grid *grid, size_t row, int block)
{
	for (size_t c = 0; block > 0 && c < grid->column_count; c++)
		if (!grid->columns[c].each && grid_is_put(grid, c, block) &&
		    *grid_words(grid, row, c))
			return true;
	return block == 0;
}

static void
put_row(const struct grid *grid, size_t row, int block, FILE *out, bool colour,
    const struct margin *margin)
{
	int owed = 2; /* blanks before the next words: none at a line's end */
	const struct grid_cell *first = &grid->cells[row * grid->column_count];

	if (first->across) {
		fputs("  ", out);
		grid_put_wrapped(out, colour, first->tone,
		    grid->words.bytes + first->at, &margin->across);
		fputc('\n', out);
		return;
	}
	for (size_t c = 0; c < grid->column_count; c++) {
		const struct grid_column *column = &grid->columns[c];
		size_t i = row * grid->column_count + c;
		if (!grid_is_put(grid, c, block))
			continue;
		const char *words = grid_words(grid, row, c);
		int spare = column->width - width_of(words);
		owed += column->right ? spare : 0;
		if (*words) {
			fprintf(out, "%*s", owed, "");
			if (c == margin->column)
				grid_put_wrapped(out, colour, grid->cells[i].tone,
				    words, &margin->hang);
			else
				grid_put_toned(out, colour, grid->cells[i].tone, words);
			owed = 0;
		}
		owed += column->right ? 2 : spare + 2;
	}
	fputc('\n', out);
}

/* The last column of a block, if it is of words and passes `width`. */
static struct margin
find_margin(const struct grid *grid, int block, int width)
{
	struct margin margin = {.column = SIZE_MAX, .across = {2, 4, width}};
	size_t last = SIZE_MAX;
	int end = 0;

	for (size_t c = 0; c < grid->column_count; c++)
		if (grid_is_put(grid, c, block)) {
			last = c;
			end += 2 + grid->columns[c].width;
		}
	if (last == SIZE_MAX || grid->columns[last].right || end <= width)
		return margin;
	int from = end - grid->columns[last].width;
	bool narrow = width - from < GRID_WRAP_LEAST;
	margin.column = last;
	margin.hang =
	    (struct hang){from, from, narrow ? from + GRID_WRAP_LEAST : width};
	return margin;
}

bool
grid_put(const struct grid *grid, int block, FILE *out, bool colour, int width)
{
	struct margin margin = find_margin(grid, block, width);
	bool any = false;

	for (size_t c = 0; c < grid->column_count; c++)
		any |= grid->columns[c].block == block && grid->columns[c].shown;
	for (size_t row = 0; any && row < grid_rows(grid); row++)
		if (grid_is_row_put(grid, row, block))
			put_row(grid, row, block, out, colour, &margin);
	return any;
}
