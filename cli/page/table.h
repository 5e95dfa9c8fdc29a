/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table that is open, kept for people until its end, when the widths are known.  For
 * the formats of this folder. */
#ifndef CLI_PAGE_TABLE_H
#define CLI_PAGE_TABLE_H

#include "cli/page/grid.h"

struct table {
	struct grid grid; /* its titles are row 0 */
	const struct column *columns;
	const char *heading;
};

void table_init(struct table *table);
void table_release(struct table *table);

void table_start(struct table *table, const char *heading, const struct column *columns,
    size_t count);
void table_row(struct table *table, const struct cell *cells);
void table_across(struct table *table, enum page_tone tone, const char *sentence);

/* Whether it is for people and has rows; then it is laid out. */
bool table_end(struct table *table);

#endif
