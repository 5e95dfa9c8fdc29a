/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How wide text is on a terminal, to align columns.  Pure; any thread. */
#ifndef CLI_PAGE_WIDTH_H
#define CLI_PAGE_WIDTH_H

/* Columns that a string takes: a character one, 0 for combining marks, 2 for East Asian
 * wide forms; a byte that is no UTF-8 one. */
int width_of(const char *string);

#endif
