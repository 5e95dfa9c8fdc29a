/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/csv/csv_column.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/csv/csv_file.h"
#include "cli/csv/csv_header.h"
#include "cli/csv/csv_line.h"
#include "conf/settings.h"
#include "daemon/base/text.h"

struct reading {
	struct csv_file file;
	const struct csv_wanted *wanted;
	size_t wanted_count;
	size_t field_count;        /* of the header */
	int place[CSV_WANTED];     /* which field; -1: none */
	double before[CSV_WANTED]; /* the latest of an ascending column; NAN: none */
	struct csv_columns *columns;
	size_t room; /* rows */
	char *field[CSV_FIELDS];
};

/* --- mistakes, fields -------------------------------------------------------------- */

static bool
lose_memory(struct reading *reading)
{
	csv_file_complain(&reading->file, 0, "out of memory");
	return false;
}

/* Parts the record in place; how many fields, or -1 after a complaint. */
static int
split(struct reading *reading, char *record)
{
	int count;
	const char *wrong = csv_line_split(record, ',', reading->field, &count);

	if (!wrong)
		return count;
	csv_file_complain(&reading->file, reading->file.line, "%s", wrong);
	return -1;
}

/* --- the header ---------------------------------------------------------------------- */

/* What other programs part columns by. */
static bool
is_parted_otherwise(struct reading *reading)
{
	const char *header = reading->field[0];

	if (reading->field_count != 1)
		return false;
	if (strchr(header, ';'))
		csv_file_complain(&reading->file, reading->file.line,
		    "the columns are parted by ';', must be by ',' (and numbers "
		    "written with a point)");
	else if (strchr(header, '\t'))
		csv_file_complain(&reading->file, reading->file.line,
		    "the columns are parted by tabs, must be by ','");
	return strpbrk(header, ";\t") != NULL;
}

static void
complain_of_header(struct reading *reading, const struct csv_wanted *wanted)
{
	char hint[CSV_HINT];

	if (is_parted_otherwise(reading))
		return;
	csv_header_hint(reading->field, reading->field_count, wanted->name, hint);
	csv_file_complain(&reading->file, reading->file.line,
	    "the header has no column '%s'%s%s%s%s", wanted->name,
	    wanted->or_else ? " or '" : "", wanted->or_else ? wanted->or_else : "",
	    wanted->or_else ? "'" : "", hint);
}

static void
find_place(struct reading *reading, size_t w)
{
	const struct csv_wanted *wanted = &reading->wanted[w];
	int place = csv_header_find(reading->field, reading->field_count, wanted->name);
	int other = wanted->or_else ? csv_header_find(reading->field,
					  reading->field_count, wanted->or_else)
	                            : -1;

	reading->place[w] = place;
	if (place < 0 && other < 0 && wanted->required)
		complain_of_header(reading, wanted);
	if (place >= 0 && other >= 0)
		csv_file_complain(&reading->file, reading->file.line,
		    "the header has '%s' and '%s': leave one of them out", wanted->name,
		    wanted->or_else);
	for (size_t i = 0; place >= 0 && i < reading->field_count; i++)
		if ((int)i > place && strcmp(reading->field[i], wanted->name) == 0)
			csv_file_complain(&reading->file, reading->file.line,
			    "the header has '%s' twice", wanted->name);
}

/* Where the wanted columns stand. */
static bool
read_header(struct reading *reading, char *record)
{
	size_t before = reading->file.problems->count;
	int count = split(reading, record);

	if (count < 0)
		return false;
	reading->field_count = (size_t)count;
	for (size_t w = 0; w < reading->wanted_count; w++)
		find_place(reading, w);
	return reading->file.problems->count == before;
}

/* --- rows ---------------------------------------------------------------------------- */

static bool
make_room(struct reading *reading)
{
	struct csv_columns *columns = reading->columns;

	if (columns->count < reading->room)
		return true;
	size_t room = reading->room ? reading->room * 2 : 1024;
	int *line = realloc(columns->line, room * sizeof *line);
	if (!line)
		return lose_memory(reading);
	columns->line = line;
	for (size_t w = 0; w < reading->wanted_count; w++) {
		if (reading->place[w] < 0)
			continue;
		double *values = realloc(columns->values[w], room * sizeof *values);
		if (!values)
			return lose_memory(reading);
		columns->values[w] = values;
	}
	reading->room = room;
	return true;
}

/* A field as a number, NAN when there is none. */
static double
number_of(struct reading *reading, size_t w)
{
	const struct csv_wanted *wanted = &reading->wanted[w];
	const char *field = reading->field[reading->place[w]];
	double value;

	if (*field == '\0') {
		if (wanted->filled)
			csv_file_complain(&reading->file, reading->file.line,
			    "there is no '%s'", wanted->name);
		return NAN;
	}
	if (!text_number(field, &value)) {
		csv_file_complain(&reading->file, reading->file.line,
		    "'%s' is '%.40s', must be a number, or empty where there is no "
		    "reading",
		    wanted->name, field);
		return NAN;
	}
	if (wanted->minimum < wanted->maximum &&
	    (value < wanted->minimum || value > wanted->maximum)) {
		csv_file_complain(&reading->file, reading->file.line,
		    "'%s' is %.40s, must be %g..%g%s", wanted->name, field,
		    wanted->minimum, wanted->maximum,
		    wanted->filled ? "" : ", or empty where there is no reading");
		return NAN;
	}
	if (wanted->ascending && value <= reading->before[w])
		csv_file_complain(&reading->file, reading->file.line,
		    "'%s' is %.40s, must be above that of the row before (%g)",
		    wanted->name, field, reading->before[w]);
	reading->before[w] = value;
	return value;
}

static bool
read_row(struct reading *reading, char *record)
{
	struct csv_columns *columns = reading->columns;
	int count = split(reading, record);

	if (count < 0)
		return true;
	if ((size_t)count != reading->field_count) {
		csv_file_complain(&reading->file, reading->file.line,
		    "%d fields, must be %zu as the header has", count,
		    reading->field_count);
		return true;
	}
	if (columns->count >= CSV_ROWS) {
		csv_file_complain(
		    &reading->file, reading->file.line, "more than %d rows", CSV_ROWS);
		return false;
	}
	if (!make_room(reading))
		return false;
	for (size_t w = 0; w < reading->wanted_count; w++) {
		if (reading->place[w] < 0)
			continue;
		double value = number_of(reading, w);
		columns->values[w][columns->count] = value;
		columns->readings[w] += isnan(value) ? 0 : 1;
	}
	columns->line[columns->count++] = reading->file.line;
	return true;
}

static void
read_all(struct reading *reading)
{
	bool headed = false;
	char *record;

	for (size_t w = 0; w < CSV_WANTED; w++)
		reading->before[w] = NAN;
	while ((record = csv_file_record(&reading->file, ','))) {
		if (csv_file_is_empty(record))
			continue;
		if (!headed && !read_header(reading, record))
			return;
		if (headed && !read_row(reading, record))
			return;
		headed = true;
	}
	if (reading->file.problems->count > 0)
		return;
	if (!headed)
		csv_file_complain(&reading->file, 0,
		    "is empty; its first line must name the columns");
	else if (reading->columns->count == 0)
		csv_file_complain(&reading->file, 0, "has a header and no rows");
}

bool
csv_columns_read(struct csv_columns *columns, const char *path, FILE *in,
    const struct csv_wanted *wanted, size_t wanted_count, struct problems *problems)
{
	struct reading *reading = calloc(1, sizeof *reading);

	*columns = (struct csv_columns){0};
	if (!reading) {
		struct csv_file told = {.path = path, .problems = problems};
		problems->count = 0;
		csv_file_complain(&told, 0, "out of memory");
		return false;
	}
	reading->wanted = wanted;
	reading->wanted_count = wanted_count;
	reading->columns = columns;
	if (csv_file_open(&reading->file, path, in, problems))
		read_all(reading);
	csv_file_close(&reading->file);
	free(reading);
	if (problems->count > 0)
		csv_columns_release(columns);
	return problems->count == 0;
}

void
csv_columns_release(struct csv_columns *columns)
{
	for (size_t w = 0; w < CSV_WANTED; w++)
		free(columns->values[w]);
	free(columns->line);
	*columns = (struct csv_columns){0};
}
