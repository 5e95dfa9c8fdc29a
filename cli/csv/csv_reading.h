/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A csv_table while it is read: its header, its labels.  For csv_table alone. */
#ifndef CLI_CSV_CSV_READING_H
#define CLI_CSV_CSV_READING_H

#include <search.h>

#include "cli/csv/csv_column.h"
#include "cli/csv/csv_file.h"
#include "cli/csv/csv_table.h"

struct table_reading {
	struct csv_file file;
	const struct csv_table_asked *asked;
	struct csv_table *table;
	char separator;
	size_t field_count; /* of the header */
	bool nameless_end;  /* the last of them has no name */
	int place[CSV_TABLE_COLUMNS];
	size_t room; /* rows */
	size_t name_room[CSV_TABLE_COLUMNS - 1];
	struct hsearch_data index[CSV_TABLE_COLUMNS - 1]; /* of the names */
	bool indexed[CSV_TABLE_COLUMNS - 1];
	size_t empty; /* lines, the last ones so far */
	/* Mistakes of one kind, told or not: cells that are no number, below zero; rows with
	 * more or fewer cells than the header. */
	size_t no_number, below_zero, miscounted;
	char *field[CSV_FIELDS];
};

/* Always false, with the complaint. */
bool csv_table_lose_memory(struct table_reading *reading);

/* What parts the columns, from the header and the record below (NULL: there is none). */
char csv_table_separator(
    const struct csv_table_asked *asked, const char *header, const char *below);

/* Finds the columns asked for; parts `header` in place.  False after a complaint. */
bool csv_table_header(struct table_reading *reading, char *header);

/* The label of the row that is read, of column `w`, in a time that does not grow with the
 * number of labels.  False when it cannot go on, after a complaint. */
bool csv_labels_read(struct table_reading *reading, size_t w);
void csv_labels_close(struct table_reading *reading);

#endif
