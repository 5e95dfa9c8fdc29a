/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The names that a CSV file's header gives its columns.  For this folder alone. */
#ifndef CLI_CSV_CSV_HEADER_H
#define CLI_CSV_CSV_HEADER_H

#include <stddef.h>

enum { CSV_HINT = 400 };

/* Which field it is, the first of several; -1: none. */
int csv_header_find(char *const *field, size_t count, const char *name);

/* Makes line feeds, carriage returns and tabs in the names (those in quotes) blanks.  The
 * first field with another control character, from 0, and the byte; -1: none has. */
int csv_header_clean(char *const *field, size_t count, unsigned char *byte);

/* For a name that is not there, behind a sentence: "; is 'top_c' meant?", or "; it has t_s,
 * top_c ...". */
void csv_header_hint(
    char *const *field, size_t count, const char *name, char hint[static CSV_HINT]);

#endif
