/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/paper_columns.h"

#include <math.h>
#include <string.h>

#define WORDS_LEAST 90.0    /* a column of words is made no narrower for others' sake */
#define WORDS_WRAPPED 170.0 /* wider ones are */

/* A grid counts in hundredths of a point. */
enum { UNITS = 100, TITLE_LINES = 2, COLUMN_LEAST = 24 };

static int
width_of(void *state, const char *words, enum page_tone tone)
{
	const struct canvas_letters letters = paper_letters(COLUMNS_SIZE, tone);

	return (int)ceil(paper_measure(state, &letters, words) * UNITS);
}

/* A title may take several lines: it widens its column by its longest word, or by a part of
 * the whole. */
static int
title_width(struct paper *paper, const char *title)
{
	int most = width_of(paper, title, TONE_FAINT) / TITLE_LINES;
	char word[200];

	while (*(title += strspn(title, " "))) {
		size_t length = strcspn(title, " ");
		size_t room = length < sizeof word - 1 ? length : sizeof word - 1;
		memcpy(word, title, room);
		word[room] = '\0';
		int width = width_of(paper, word, TONE_FAINT);
		most = width > most ? width : most;
		title += length;
	}
	return most;
}

static void
measure_columns(struct paper *paper, struct grid *grid)
{
	for (size_t c = 0; c < grid->column_count; c++) {
		struct grid_column *column = &grid->columns[c];
		column->width = title_width(paper, grid_words(grid, 0, c));
		for (size_t row = 1; row < grid_rows(grid); row++) {
			const struct grid_cell *cell =
			    &grid->cells[row * grid->column_count + c];
			const struct grid_cell *first =
			    &grid->cells[row * grid->column_count];
			int width =
			    first->across
				? 0
				: width_of(paper, grid_words(grid, row, c), cell->tone);
			column->width = width > column->width ? width : column->width;
		}
		if (!column->right && column->width > WORDS_WRAPPED * UNITS)
			column->width = (int)(WORDS_WRAPPED * UNITS);
	}
}

double
columns_width(const struct block *block)
{
	double total = 0;

	for (size_t i = 0; i < block->count; i++)
		total += block->width[i] + (i > 0 ? COLUMNS_GAP : 0);
	return total;
}

static void
cap(struct block *block, double most, bool numbers_too)
{
	for (size_t i = 0; i < block->count; i++)
		if ((numbers_too || !block->grid->columns[block->column[i]].right) &&
		    block->width[i] > most)
			block->width[i] = most;
}

/* Takes what is too much from the widest columns of words, at last from all. */
static void
narrow(struct block *block)
{
	for (int pass = 0; pass < 2; pass++)
		for (int most = (int)PAPER_WIDTH; most > COLUMN_LEAST; most -= 2)
			if (columns_width(block) > PAPER_WIDTH)
				cap(block, most, pass > 0);
}

/* As wide as the widest of its words, of numbers as its title. */
static double
wanted_width(const struct block *block, size_t c)
{
	const struct grid *grid = block->grid;
	double wanted = width_of(block->paper, grid_words(grid, 0, c), TONE_FAINT);

	for (size_t row = 1; !grid->columns[c].right && row < grid_rows(grid); row++)
		if (!grid->cells[row * grid->column_count].across)
			wanted =
			    fmax(wanted, width_of(block->paper,
					     grid_words(grid, row, c), TONE_STRONG));
	return wanted / UNITS;
}

/* Room that is left goes to columns whose words were cut. */
static void
widen(struct block *block)
{
	for (size_t i = 0; i < block->count; i++) {
		double spare = PAPER_WIDTH - columns_width(block);
		double wanted = wanted_width(block, block->column[i]);
		block->width[i] += fmin(fmax(0, wanted - block->width[i]), spare);
	}
}

void
columns_choose(struct block *block)
{
	const struct grid *grid = block->grid;
	double x = 0;

	block->count = 0;
	for (size_t c = 0; c < grid->column_count; c++) {
		if (!grid_is_put(grid, c, block->number))
			continue;
		block->column[block->count] = c;
		block->width[block->count++] = grid->columns[c].width / (double)UNITS;
	}
	if (columns_width(block) > PAPER_WIDTH)
		narrow(block);
	else
		widen(block);
	for (size_t i = 0; i < block->count; i++) {
		block->x[i] = x;
		x += block->width[i] + COLUMNS_GAP;
	}
}

int
columns_fold(struct paper *paper, struct grid *grid)
{
	const struct grid_ruler ruler = {.width_of = width_of,
	    .state = paper,
	    .gap = (int)(COLUMNS_GAP * UNITS),
	    .wrap_least = (int)(WORDS_LEAST * UNITS)};
	const struct grid_ruler *before = grid->ruler;

	grid->ruler = &ruler;
	measure_columns(paper, grid);
	/* the first column has no gap before it */
	int blocks = grid_fold(grid, (int)((PAPER_WIDTH + COLUMNS_GAP) * UNITS));
	grid->ruler = before;
	return blocks;
}
