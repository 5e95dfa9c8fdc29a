/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Just enough of UTF-8 to align columns and to write valid JSON, whatever bytes a
 * name holds.  Pure; any thread.
 */
#ifndef CLI_PAGE_UTF8_H
#define CLI_PAGE_UTF8_H

#include <stdint.h>

/*
 * Takes one code point from `*bytes` and moves on.  A byte that begins no valid
 * sequence (RFC 3629) is taken alone and read as U+FFFD.  0 at the end, not moved.
 */
uint32_t utf8_next(const char **bytes);

/* Columns on a terminal: 0 for combining marks, 2 for East Asian wide forms. */
int utf8_width(const char *string);

/* Cells of one code point, as above. */
int utf8_point_width(uint32_t point);

#endif
