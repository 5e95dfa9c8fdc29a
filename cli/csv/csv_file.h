/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A CSV file of the user's, record by record (RFC 4180: a line each, LF or CRLF, with line
 * feeds only within quotes; a byte order mark is passed over), and the mistakes in it.
 * Memory does not grow with the file.  Blocks while the file does.  One thread.
 */
#ifndef CLI_CSV_CSV_FILE_H
#define CLI_CSV_CSV_FILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

struct problems;

struct csv_file {
	const char *path; /* as it is shown; lent */
	int line;         /* where the record begins that was read last, from 1 */
	struct problems *problems;

	FILE *in;
	bool lent, ended; /* `in` is the caller's; has given its last byte */
	char *bytes;      /* what was read ahead: those from `begin` to `end` */
	size_t begin, end;
	int lines; /* passed so far */
};

/* `path`, or `in` for "-".  False with the reason among the problems (lent until the
 * release, emptied here). */
bool csv_file_open(
    struct csv_file *file, const char *path, FILE *in, struct problems *problems);
void csv_file_close(struct csv_file *file);

/* The next record without its end, the caller's to write in until the next call.  NULL at
 * the end, and where it cannot be read further, with the reason among the problems.
 * `separator`: as for csv_line_end. */
char *csv_file_record(struct csv_file *file, char separator);

/* Is a record of nothing but blanks. */
bool csv_file_is_empty(const char *record);

/* Below a blank, or the delete. */
bool csv_is_control(char byte);

/* Adds a mistake as "file:line: sentence", of line 0 as "file: sentence"; counted without its
 * words when there are too many.  Control characters are shown as '?'. */
void csv_file_complain(struct csv_file *file, int line, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
