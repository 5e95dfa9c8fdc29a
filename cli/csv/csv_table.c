/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/csv/csv_table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/csv/csv_line.h"
#include "cli/csv/csv_number.h"
#include "cli/csv/csv_reading.h"
#include "conf/settings.h"

enum { ROWS_AT_FIRST = 1024, ROWS_BETWEEN = 1 << 18 };
enum { ALIKE_TOLD = 5 }; /* mistakes of one kind: as many more are counted */

bool
csv_table_lose_memory(struct table_reading *reading)
{
	csv_file_complain(&reading->file, 0, "out of memory");
	return false;
}

/* --- cells --------------------------------------------------------------------------- */

static double
complain_of_number(struct table_reading *reading, const char *cell)
{
	const char last = *cell ? cell[strlen(cell) - 1] : '\0';
	bool comma = !reading->asked->decimal_comma && strchr(cell, ',');
	bool point = reading->asked->decimal_comma && strchr(cell, '.');

	if (++reading->no_number > ALIKE_TOLD)
		return NAN;
	csv_file_complain(&reading->file, reading->file.line,
	    "'%s' is '%.40s', must be a finite number, or empty or 'nan' where there "
	    "is "
	    "none%s",
	    reading->table->title, cell,
	    last == ',' || last == ';' ? "; the line ends with a separator"
	    : comma                    ? "; is --decimal-comma meant?"
	    : point                    ? "; with --decimal-comma a number has no point"
				       : "");
	return NAN;
}

static double
read_number(struct table_reading *reading, const char *cell)
{
	double value;

	if (!csv_number_read(cell, reading->asked->decimal_comma, &value))
		return complain_of_number(reading, cell);
	if (value < 0 && reading->asked->bounded_at_zero &&
	    ++reading->below_zero <= ALIKE_TOLD)
		csv_file_complain(&reading->file, reading->file.line,
		    "'%s' is '%.40s', is below zero, but --zero-bounded says that "
		    "cannot be",
		    reading->table->title, cell);
	return value;
}

/* --- rows ---------------------------------------------------------------------------- */

static bool
make_room(struct table_reading *reading)
{
	struct csv_table *table = reading->table;
	size_t room = reading->room ? reading->room * 2 : ROWS_AT_FIRST;
	double *values;

	if (table->count < reading->room)
		return true;
	if (table->count >= CSV_TABLE_ROWS) {
		csv_file_complain(&reading->file, reading->file.line,
		    "more than %d rows", CSV_TABLE_ROWS);
		return false;
	}
	values = realloc(table->values, room * sizeof *values);
	if (!values)
		return csv_table_lose_memory(reading);
	table->values = values;
	for (size_t w = 0; w + 1 < reading->asked->column_count; w++) {
		unsigned *label = realloc(table->label[w], room * sizeof *label);
		if (!label)
			return csv_table_lose_memory(reading);
		table->label[w] = label;
	}
	reading->room = room;
	return true;
}

static void
complain_of_count(struct table_reading *reading, size_t count)
{
	size_t wanted = reading->field_count;
	bool more = count == wanted + 1 && *reading->field[count - 1] == '\0';
	bool less = count + 1 == wanted && reading->nameless_end;

	if (++reading->miscounted > ALIKE_TOLD)
		return;
	csv_file_complain(&reading->file, reading->file.line,
	    "%zu cell%s, must be %zu as the header has%s", count, count == 1 ? "" : "s",
	    wanted,
	    more   ? "; the line ends with a separator"
	    : less ? ", which ends with a separator"
		   : "");
}

/* The fields of a row; false after a complaint. */
static bool
split_row(struct table_reading *reading, char *record)
{
	int count;
	const char *wrong =
	    csv_line_split(record, reading->separator, reading->field, &count);

	if (wrong)
		csv_file_complain(&reading->file, reading->file.line, "%s", wrong);
	else if ((size_t)count != reading->field_count)
		complain_of_count(reading, (size_t)count);
	else
		return true;
	return false;
}

/* One more value; false when it cannot go on. */
static bool
read_row(struct table_reading *reading, char *record)
{
	const struct csv_table_asked *asked = reading->asked;
	struct csv_table *table = reading->table;

	if (!split_row(reading, record))
		return true;
	if (!make_room(reading))
		return false;
	for (size_t w = 0; w + 1 < asked->column_count; w++)
		if (!csv_labels_read(reading, w))
			return false;
	table->values[table->count++] = read_number(
	    reading, reading->field[reading->place[asked->column_count - 1]]);
	if (asked->came && table->count % ROWS_BETWEEN == 0)
		asked->came(asked->arg, table->count);
	return true;
}

/* Empty lines of a single column are missing values once something follows on them. */
static bool
take_empty(struct table_reading *reading)
{
	for (; reading->empty > 0; reading->empty--) {
		if (!make_room(reading))
			return false;
		reading->table->values[reading->table->count++] = NAN;
	}
	return true;
}

static bool
take_record(struct table_reading *reading, char *record)
{
	bool single = reading->field_count == 1;
	const char *blanks = single || reading->separator != '\t' ? " \t" : " ";

	if (record[strspn(record, blanks)] == '\0') {
		reading->empty += single;
		return true;
	}
	return take_empty(reading) && read_row(reading, record);
}

static void
tell_more(struct table_reading *reading, size_t mistakes, const char *what)
{
	if (mistakes > ALIKE_TOLD)
		csv_file_complain(
		    &reading->file, 0, "and %zu more %s", mistakes - ALIKE_TOLD, what);
}

/* The rest of the file, whose header is `header`. */
static bool
read_below(struct table_reading *reading, char *header)
{
	struct csv_file *file = &reading->file;
	int line = file->line;
	char *record = csv_file_record(file, CSV_ANY);
	int below = file->line;

	reading->separator = csv_table_separator(reading->asked, header, record);
	file->line = line;
	if (!csv_table_header(reading, header))
		return false;
	file->line = below;
	for (; record; record = csv_file_record(file, reading->separator))
		if (!take_record(reading, record))
			return false;
	reading->table->empty_at_end = reading->empty;
	return true;
}

static void
read_all(struct table_reading *reading)
{
	char *record;

	do
		record = csv_file_record(&reading->file, CSV_ANY);
	while (record && record[strspn(record, " ")] == '\0');
	if (!record && reading->file.problems->count == 0)
		csv_file_complain(&reading->file, 0,
		    "is empty; its first line must name the columns");
	if (!record)
		return;
	char *header = strdup(record);
	if (header)
		read_below(reading, header);
	else
		csv_table_lose_memory(reading);
	free(header);
	tell_more(reading, reading->no_number, "that are no number");
	tell_more(reading, reading->below_zero, "below zero");
	tell_more(reading, reading->miscounted, "with cells too many or too few");
}

bool
csv_table_read(struct csv_table *table, const char *path, FILE *in,
    const struct csv_table_asked *asked, struct problems *problems)
{
	struct table_reading *reading = calloc(1, sizeof *reading);

	*table = (struct csv_table){0};
	if (!reading) {
		struct csv_file told = {.path = path, .problems = problems};
		problems->count = 0;
		csv_file_complain(&told, 0, "out of memory");
		return false;
	}
	reading->asked = asked;
	reading->table = table;
	if (csv_file_open(&reading->file, path, in, problems))
		read_all(reading);
	csv_labels_close(reading);
	csv_file_close(&reading->file);
	free(reading);
	if (problems->count > 0)
		csv_table_release(table);
	return problems->count == 0;
}

void
csv_table_release(struct csv_table *table)
{
	for (size_t w = 0; w < CSV_TABLE_COLUMNS - 1; w++) {
		for (size_t i = 0; i < table->name_count[w]; i++)
			free(table->names[w][i]);
		free(table->names[w]);
		free(table->label[w]);
	}
	free(table->values);
	*table = (struct csv_table){0};
}
