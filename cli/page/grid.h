/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Words in rows and columns that line up, for people: kept until all rows are there and
 * the widths are known.  Numbers stand at the right of their column.
 */
#ifndef CLI_PAGE_GRID_H
#define CLI_PAGE_GRID_H

#include "cli/page/writer.h"
#include "daemon/base/text.h"

struct grid_cell {
	size_t at; /* of its NUL-terminated words in the grid's text */
	enum page_tone tone;
	bool right;
	bool across; /* the row has no other */
};

struct grid_column {
	int block; /* see struct column */
	int width;
	bool right, shown;
	bool each; /* in every block; its own is 0 */
};

/* How wide words are, in a unit of the format's: columns of a terminal at first. */
struct grid_ruler {
	int (*width_of)(void *state, const char *words, enum page_tone tone);
	void *state;
	int gap;        /* before each column */
	int wrap_least; /* words in the last column are wrapped, but to no less */
};

struct grid {
	const struct grid_ruler *ruler; /* lent */
	struct text words;
	struct grid_cell *cells;
	size_t count, room;
	size_t column_count; /* WRITER_COLUMNS at most */
	struct grid_column columns[WRITER_COLUMNS];
	bool failed; /* memory was short: something is lost */
};

void grid_init(struct grid *grid);
void grid_release(struct grid *grid);

/* Empties it for a table of so many columns, all of block 0. */
void grid_start(struct grid *grid, size_t column_count);

/* Adds the next cell, row by row. */
void grid_add(struct grid *grid, const struct cell *cell);

/* Adds a row of one cell, which reaches over all columns and widens none. */
void grid_add_across(struct grid *grid, const struct cell *cell);

/* Sets the widths.  A column without any words is not shown; `header` rows at the top
 * do not count for that. */
void grid_lay_out(struct grid *grid, size_t header);

/* Parts blocks that are wider than `width` in several; how many there are then.  Lay out
 * before. */
int grid_fold(struct grid *grid, int width);

/* What stands there, and whether the column, the row are of this block. */
size_t grid_rows(const struct grid *grid);
const char *grid_words(const struct grid *grid, size_t row, size_t column);
bool grid_is_put(const struct grid *grid, size_t column, int block);
bool grid_is_row_put(const struct grid *grid, size_t row, int block);

/* On a terminal: the rows, with the columns of a block after those of each; whether it has any.  Beyond
 * block 0 only rows that have words there, and none that is across.  Words in the last of them are wrapped to keep within `width` columns, though to no
 * less than GRID_WRAP_LEAST.  Lay out before.  Not after a failure. */
enum { GRID_WRAP_LEAST = 24 };
bool grid_put(const struct grid *grid, int block, FILE *out, bool colour, int width);

/* Words in a tone, where colour is wanted. */
void grid_put_toned(FILE *out, bool colour, enum page_tone tone, const char *words);

/* The same, broken at blanks to keep within `width` columns: the first line begins at
 * column `first`, the others at `indent`.  A word that is longer than a line stays whole. */
struct hang {
	int first, indent, width;
};
void grid_put_wrapped(FILE *out, bool colour, enum page_tone tone, const char *words,
    const struct hang *hang);

#endif
