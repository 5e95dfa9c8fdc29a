/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How wide the columns of a table are on paper, and which stand in one block.  For the
 * PDF of this folder alone. */
#ifndef CLI_PAGE_PAPER_COLUMNS_H
#define CLI_PAGE_PAPER_COLUMNS_H

#include "cli/page/grid.h"
#include "cli/page/paper.h"

#define COLUMNS_SIZE 8.0 /* of letters */
#define COLUMNS_GAP 10.0

/* One block of a table as it is put; points from the left margin. */
struct block {
	struct paper *paper;
	const struct grid *grid;
	const char *heading; /* NULL: none */
	int number;
	size_t count;
	size_t column[WRITER_COLUMNS];
	double x[WRITER_COLUMNS], width[WRITER_COLUMNS];
};

/* Parts what is too wide in several blocks; how many there are then. */
int columns_fold(struct paper *paper, struct grid *grid);

/* Chooses the columns of block `number` and their widths; columns_fold before. */
void columns_choose(struct block *block);

double columns_width(const struct block *block);

#endif
