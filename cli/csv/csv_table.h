/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One column of numbers, or some columns of labels and one of numbers, from any CSV file:
 * hand-kept records, what other programs write.  The first line names the columns; what
 * parts them (comma, semicolon or tab) is found from it and the line below.  An empty cell
 * or `nan` is a missing value that keeps its place.  So is an empty line where the file has
 * a single column, but at the file's end; where it has more, an empty line is passed over.
 * Blocks while the file does.  One thread.
 */
#ifndef CLI_CSV_CSV_TABLE_H
#define CLI_CSV_CSV_TABLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

struct problems;

enum {
	CSV_TABLE_ROWS = 100 * 1000 * 1000, /* at most */
	CSV_TABLE_COLUMNS = 3,
	CSV_TABLE_LABELS = 10000, /* different ones in a column, at most */
	CSV_TABLE_NAME = 200,
};

struct csv_table_asked {
	/* Of the header.  The last holds numbers, those before it labels, in every row.
	 * A single NULL: the one column that the file has. */
	const char *column[CSV_TABLE_COLUMNS];
	size_t column_count;
	/* Numbers are written 1,5; columns are parted by it only where nothing else parts
	 * them, and then such numbers stand in quotes. */
	bool decimal_comma;
	bool bounded_at_zero; /* a number below zero is a mistake */
	/* Now and then, how many rows have come; NULL: nobody asks. */
	void (*came)(void *arg, size_t rows);
	void *arg;
};

struct csv_table {
	size_t count;
	double *values;                         /* NAN: missing */
	unsigned *label[CSV_TABLE_COLUMNS - 1]; /* of each row, which of the names */
	char **names[CSV_TABLE_COLUMNS - 1];    /* as they came up */
	size_t name_count[CSV_TABLE_COLUMNS - 1];
	char title[CSV_TABLE_NAME]; /* of the column of numbers */
	size_t empty_at_end;        /* lines at the file's end that were passed over */
};

/*
 * Fills `table` (csv_table_release) from `path`, or from `in` when that is "-".  False with
 * every mistake in `problems`, as csv_columns_read.
 */
bool csv_table_read(struct csv_table *table, const char *path, FILE *in,
    const struct csv_table_asked *asked, struct problems *problems);
void csv_table_release(struct csv_table *table);

#endif
