/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How wide text is on a terminal, to align columns.  Pure; any thread. */
#ifndef CLI_PAGE_WIDTH_H
#define CLI_PAGE_WIDTH_H

#include <stddef.h>

/* Columns that a string takes: a character one, 0 for combining marks, 2 for East Asian
 * wide forms; a byte that is no UTF-8 one. */
int width_of(const char *string);

/* Bytes of the longest start of a string that takes `room` columns at most and ends at a
 * blank or with the string: a word that is longer stands alone.  0 of an empty one. */
size_t width_line(const char *string, int room);

#endif
