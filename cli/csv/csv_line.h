/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fields of a line of CSV.  For csv_column alone. */
#ifndef CLI_CSV_CSV_LINE_H
#define CLI_CSV_CSV_LINE_H

/* Parts the line, without its end, in place: *count fields, at most CSV_FIELDS, without
 * their quotes and the blanks around them.  NULL, or what is wrong with it. */
const char *csv_line_split(char *line, char *fields[], int *count);

#endif
