/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A table on sheets of paper: folded where it is too wide, words wrapped, its head again on
 * each sheet, no row parted.  For the PDF of this folder alone.
 */
#ifndef CLI_PAGE_PAPER_TABLE_H
#define CLI_PAGE_PAPER_TABLE_H

#include "cli/page/paper.h"
#include "cli/page/table.h"

/* After table_end of the same. */
void paper_table_put(struct paper *paper, struct table *table);

/* A run of names and values, in two columns; laid out. */
void paper_fields_put(struct paper *paper, const struct grid *fields);

#endif
