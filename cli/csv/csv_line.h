/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fields of a record of CSV (RFC 4180), whatever parts them.  For this folder alone. */
#ifndef CLI_CSV_CSV_LINE_H
#define CLI_CSV_CSV_LINE_H

#include <stddef.h>

/* In place of a separator: whichever of them. */
#define CSV_ANY '\0'

/*
 * Parts the record, without its end, in place by `separator` (',', ';' or a tab): *count
 * fields, at most CSV_FIELDS, without their quotes and the blanks around them.  NULL, or
 * what is wrong with it.
 */
const char *csv_line_split(char *line, char separator, char *fields[], int *count);

/* How many fields the record has by that separator. */
int csv_line_count(const char *line, char separator);

/* Where the record at `bytes` ends: its line feed, one in quotes not being its; `length`
 * when its end is not among them, or its quotes are wrong.  CSV_ANY too. */
size_t csv_line_end(const char *bytes, size_t length, char separator);

#endif
