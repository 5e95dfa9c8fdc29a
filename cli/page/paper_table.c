/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/paper_table.h"

#include <math.h>
#include <string.h>

#include "cli/page/paper_columns.h"

#define LINE (COLUMNS_SIZE * PAPER_LEADING)
#define PADDING 1.5             /* above and below a row's lines */
#define KEEP (PAPER_HEIGHT / 5) /* a table so high is not parted */
#define RULE_ROW 0xdfe3e6
#define RULE_HEAD 0x7d8890

/* What is still to be put of a row. */
struct rest {
	const char *words[WRITER_COLUMNS];
};

/* --- rows --------------------------------------------------------------------------- */

static struct canvas_letters
letters_of(const struct block *block, size_t row, size_t i)
{
	const struct grid *grid = block->grid;
	const size_t c = block->column[i];

	return paper_letters(COLUMNS_SIZE,
	    row == 0 ? TONE_FAINT : grid->cells[row * grid->column_count + c].tone);
}

static int
row_lines(const struct block *block, size_t row)
{
	int most = 1;

	for (size_t i = 0; i < block->count; i++) {
		const struct canvas_letters letters = letters_of(block, row, i);
		int lines = paper_lines(block->paper, &letters,
		    grid_words(block->grid, row, block->column[i]), block->width[i]);
		most = lines > most ? lines : most;
	}
	return most;
}

static double
row_height(const struct block *block, size_t row)
{
	const struct grid *grid = block->grid;
	const struct grid_cell *first = &grid->cells[row * grid->column_count];
	const struct canvas_letters letters = paper_letters(COLUMNS_SIZE, first->tone);
	int lines = first->across
	                ? paper_lines(block->paper, &letters, grid_words(grid, row, 0),
			      PAPER_WIDTH - COLUMNS_GAP)
	                : row_lines(block, row);

	return lines * LINE + 2 * PADDING;
}

/* The next line of each cell; the pen moves below. */
static void
put_row_line(const struct block *block, size_t row, struct rest *rest)
{
	struct paper *paper = block->paper;

	for (size_t i = 0; i < block->count; i++) {
		struct canvas_letters letters = letters_of(block, row, i);
		const char *words = rest->words[i];
		double x = block->x[i];
		size_t length = paper_line(paper, &letters, words, block->width[i]);
		if (length == 0)
			continue;
		if (block->grid->columns[block->column[i]].right) {
			letters.anchor = ANCHOR_END;
			x += block->width[i];
		}
		paper_put(
		    paper, &letters, x, COLUMNS_SIZE * PAPER_ASCENT, words, length);
		rest->words[i] = words + length + strspn(words + length, " ");
	}
	paper->y += LINE;
}

/* Without any thought for the sheet's end. */
static void
put_head(const struct block *block)
{
	struct rest rest = {0};

	for (size_t i = 0; i < block->count; i++)
		rest.words[i] = grid_words(block->grid, 0, block->column[i]);
	for (int lines = row_lines(block, 0); lines > 0; lines--)
		put_row_line(block, 0, &rest);
	paper_rule(block->paper, 0, PADDING / 2,
	    fmin(PAPER_WIDTH, columns_width(block)), RULE_HEAD);
	block->paper->y += PADDING;
}

/* At the top of a sheet, where the heading stands on an earlier one. */
static void
put_continued(const struct block *block)
{
	const struct canvas_letters letters = paper_letters(COLUMNS_SIZE, TONE_FAINT);
	char words[200];

	if (!block->heading)
		return;
	snprintf(words, sizeof words, "%s, continued", block->heading);
	paper_put(block->paper, &letters, 0, COLUMNS_SIZE * PAPER_ASCENT, words,
	    paper_line(block->paper, &letters, words, PAPER_WIDTH));
	block->paper->y += LINE + PADDING;
}

/* On the next sheet, under the head again, unless there is room. */
static void
make_room(const struct block *block, double height)
{
	if (height <= paper_left(block->paper) || block->paper->y <= 0)
		return;
	paper_turn(block->paper);
	put_continued(block);
	put_head(block);
}

static void
put_across(const struct block *block, size_t row)
{
	const struct grid *grid = block->grid;
	const struct canvas_letters letters =
	    paper_letters(COLUMNS_SIZE, grid->cells[row * grid->column_count].tone);
	const char *words = grid_words(grid, row, 0);
	size_t length;

	while ((length = paper_line(
		    block->paper, &letters, words, PAPER_WIDTH - COLUMNS_GAP)) > 0) {
		make_room(block, LINE);
		paper_put(block->paper, &letters, COLUMNS_GAP,
		    COLUMNS_SIZE * PAPER_ASCENT, words, length);
		block->paper->y += LINE;
		words += length;
		words += strspn(words, " ");
	}
}

/* The next row of the block; 0: none. */
static size_t
next_row(const struct block *block, size_t row)
{
	while (++row < grid_rows(block->grid))
		if (grid_is_row_put(block->grid, row, block->number))
			return row;
	return 0;
}

/* Of the row, and of the last with the one before it: it shall not stand alone. */
static double
height_together(const struct block *block, size_t row)
{
	size_t last = next_row(block, row);
	double height = row_height(block, row);

	if (last > 0 && next_row(block, last) == 0)
		height += row_height(block, last);
	return height;
}

/* A row that is higher than a sheet is the only one to be parted. */
static void
put_row(const struct block *block, size_t row)
{
	struct rest rest = {0};

	make_room(block, height_together(block, row));
	block->paper->y += PADDING;
	if (block->grid->cells[row * block->grid->column_count].across) {
		put_across(block, row);
	} else {
		for (size_t i = 0; i < block->count; i++)
			rest.words[i] = grid_words(block->grid, row, block->column[i]);
		for (int lines = row_lines(block, row); lines > 0; lines--) {
			make_room(block, LINE);
			put_row_line(block, row, &rest);
		}
	}
	block->paper->y += PADDING;
	paper_rule(
	    block->paper, 0, 0, fmin(PAPER_WIDTH, columns_width(block)), RULE_ROW);
}

/* Of the head and so much of the table as must stand under it. */
static double
first_height(const struct block *block)
{
	double height = row_lines(block, 0) * LINE + PADDING, least = height;
	int rows = 0;

	for (size_t row = 0; height < KEEP && (row = next_row(block, row)) > 0;) {
		height += row_height(block, row);
		if (rows++ < 2)
			least = height;
	}
	return height < KEEP ? height : least;
}

static void
put_block(struct block *block)
{
	columns_choose(block);
	if (block->count == 0 || !paper_need(block->paper, first_height(block)))
		return;
	if (block->number > 0 && block->paper->y <= 0)
		put_continued(block);
	put_head(block);
	for (size_t row = 0; (row = next_row(block, row)) > 0;)
		put_row(block, row);
	paper_space(block->paper, 9);
}

void
paper_table_put(struct paper *paper, struct table *table)
{
	struct block block = {
	    .paper = paper, .grid = &table->grid, .heading = table->heading};

	if (!paper_begin(paper))
		return;
	paper_space(paper, 10);
	if (table->heading)
		paper_heading(paper, 4, table->heading);
	int blocks = columns_fold(paper, &table->grid);
	for (; block.number < blocks; block.number++)
		put_block(&block);
	paper_space(paper, 12);
}
