/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Columns of numbers from a CSV file of the user's (RFC 4180: commas, a header, quotes
 * where wanted; LF or CRLF; a byte order mark is passed over).  Columns are found by
 * their names in the header, in any order; others are left alone.  An empty field is no
 * reading; empty lines are passed over.
 */
#ifndef CLI_CSV_CSV_COLUMN_H
#define CLI_CSV_CSV_COLUMN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

struct problems;

enum {
	CSV_WANTED = 640,
	CSV_ROWS = 1 << 20,   /* at most */
	CSV_LINE = 64 * 1024, /* bytes of a line, at most */
	CSV_FIELDS = 512,     /* at most */
};

struct csv_wanted {
	const char *name;        /* "t_s" */
	bool required;           /* the column must be there */
	bool filled;             /* and a number in every row */
	bool ascending;          /* each above the one before */
	double minimum, maximum; /* of a number; unchecked when equal */
	const char *or_else;     /* a column that does in its place; NULL: none.  Both
	                            are wanted ones, and a file has one of them */
};

struct csv_columns {
	size_t count;               /* rows */
	double *values[CSV_WANTED]; /* NAN: no reading; NULL: there is no such column */
	size_t readings[CSV_WANTED]; /* numbers among them */
	int *line;                   /* of each row, from 1 */
};

/*
 * Fills `columns` (csv_columns_release) in the order of `wanted` from `path`, or from
 * `in` when that is "-".  False with every mistake in `problems` as "file:line:
 * sentence", a missing column, no rows and an unreadable file among them.
 */
bool csv_columns_read(struct csv_columns *columns, const char *path, FILE *in,
    const struct csv_wanted *wanted, size_t wanted_count, struct problems *problems);
void csv_columns_release(struct csv_columns *columns);

#endif
