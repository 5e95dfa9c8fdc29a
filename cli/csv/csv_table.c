/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/csv/csv_table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/csv/csv_column.h"
#include "cli/csv/csv_file.h"
#include "cli/csv/csv_header.h"
#include "cli/csv/csv_line.h"
#include "cli/csv/csv_number.h"
#include "conf/settings.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

enum { ROWS_AT_FIRST = 1024, ROWS_BETWEEN = 1 << 18 };

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
	size_t empty; /* lines, the last ones so far */
	char *field[CSV_FIELDS];
};

static bool
lose_memory(struct table_reading *reading)
{
	csv_file_complain(&reading->file, 0, "out of memory");
	return false;
}

/* --- the header --------------------------------------------------------------------- */

/* How much speaks for this separator: by how many columns the header has, and that the line
 * below has as many (NULL: there is none); 0: nothing. */
static int
weigh(char separator, const char *header, const char *below)
{
	int count = csv_line_count(header, separator);
	bool alike = below && csv_line_count(below, separator) == count;

	return count == 1 ? 0 : count + (alike ? CSV_FIELDS : 0);
}

/* Where numbers have decimal commas and nothing else parts the columns: do commas?  Of columns
 * asked for by names that the whole header is not; else where quotes hold such numbers. */
static bool
comma_parts(const struct csv_table_asked *asked, const char *header, const char *below)
{
	bool named = asked->column[0] && strcmp(asked->column[0], header) != 0;
	bool quoted = below && strchr(below, '"') != NULL;

	return (named || quoted) && weigh(',', header, below) > CSV_FIELDS;
}

static char
find_separator(
    const struct csv_table_asked *asked, const char *header, const char *below)
{
	int semicolon = weigh(';', header, below), tab = weigh('\t', header, below);
	int comma = weigh(',', header, below);

	if (asked->decimal_comma)
		comma =
		    !semicolon && !tab && comma_parts(asked, header, below) ? comma : 0;
	if (comma > semicolon && comma > tab)
		return ',';
	return tab > semicolon ? '\t' : ';';
}

static bool
find_place(struct table_reading *reading, size_t w)
{
	const char *name = reading->asked->column[w];
	char hint[CSV_HINT];
	int place = csv_header_find(reading->field, reading->field_count, name);

	reading->place[w] = place;
	if (place < 0) {
		csv_header_hint(reading->field, reading->field_count, name, hint);
		csv_file_complain(&reading->file, reading->file.line,
		    "the header has no column '%s'%s", name, hint);
	} else if (csv_header_find(reading->field + place + 1,
		       reading->field_count - (size_t)place - 1, name) >= 0) {
		csv_file_complain(&reading->file, reading->file.line,
		    "the header has '%s' twice", name);
		place = -1;
	}
	return place >= 0;
}

/* The one column that the file has. */
static bool
find_only_place(struct table_reading *reading)
{
	char hint[CSV_HINT];
	double number;

	reading->place[0] = 0;
	if (reading->field_count > 1) {
		csv_header_hint(reading->field, reading->field_count, "", hint);
		csv_file_complain(&reading->file, reading->file.line,
		    "there are %zu columns%s: say which with --column%s",
		    reading->field_count,
		    *reading->field[reading->field_count - 1]
			? ""
			: ", the last without a name since the line ends with a "
			  "separator",
		    hint);
		return false;
	}
	if (*reading->field[0] == '\0' || text_number(reading->field[0], &number)) {
		csv_file_complain(&reading->file, reading->file.line,
		    "the first line must name the column, and holds '%.40s'",
		    reading->field[0]);
		return false;
	}
	return true;
}

/* One that is too long ends with an ellipsis, between characters. */
static void
keep_title(struct csv_table *table, const char *name)
{
	static const char ellipsis[] = "\xe2\x80\xa6";
	const char *next = name;
	size_t fits = 0;

	if (text_copy(table->title, sizeof table->title, name))
		return;
	while (utf8_next(&next) != 0 &&
	       (size_t)(next - name) + sizeof ellipsis <= sizeof table->title)
		fits = (size_t)(next - name);
	memcpy(table->title + fits, ellipsis, sizeof ellipsis);
}

static bool
read_header(struct table_reading *reading, char *header)
{
	const struct csv_table_asked *asked = reading->asked;
	bool found = true;
	int count;
	const char *wrong =
	    csv_line_split(header, reading->separator, reading->field, &count);

	if (wrong) {
		csv_file_complain(&reading->file, reading->file.line, "%s", wrong);
		return false;
	}
	reading->field_count = (size_t)count;
	reading->nameless_end = *reading->field[count - 1] == '\0';
	unsigned char byte;
	int control = csv_header_clean(reading->field, reading->field_count, &byte);
	if (control >= 0) {
		csv_file_complain(&reading->file, reading->file.line,
		    "the name of column %d has a control character in it (byte 0x%02x)",
		    control + 1, byte);
		return false;
	}
	if (!asked->column[0])
		found = find_only_place(reading);
	else
		for (size_t w = 0; w < asked->column_count; w++)
			found = find_place(reading, w) && found;
	if (found)
		keep_title(reading->table,
		    reading->field[reading->place[asked->column_count - 1]]);
	return found;
}

/* --- cells --------------------------------------------------------------------------- */

static double
complain_of_number(struct table_reading *reading, const char *cell)
{
	const char last = *cell ? cell[strlen(cell) - 1] : '\0';
	bool comma = !reading->asked->decimal_comma && strchr(cell, ',');
	bool point = reading->asked->decimal_comma && strchr(cell, '.');

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
	if (value < 0 && reading->asked->bounded_at_zero)
		csv_file_complain(&reading->file, reading->file.line,
		    "'%s' is '%.40s', is below zero, but --zero-bounded says that "
		    "cannot be",
		    reading->table->title, cell);
	return value;
}

/* Which of the names it is, the latest first: rows of one stand together. */
static bool
read_label(struct table_reading *reading, size_t w, const char *cell)
{
	struct csv_table *table = reading->table;
	size_t *count = &table->name_count[w];
	size_t i = *count;

	while (i > 0 && strcmp(table->names[w][i - 1], cell) != 0)
		i--;
	if (i > 0) {
		table->label[w][table->count] = (unsigned)(i - 1);
		return true;
	}
	if (*cell == '\0')
		csv_file_complain(&reading->file, reading->file.line,
		    "there is no '%s'", reading->asked->column[w]);
	for (const char *at = cell; *at; at++)
		if (csv_is_control(*at)) {
			csv_file_complain(&reading->file, reading->file.line,
			    "'%s' has a control character in it (byte 0x%02x)",
			    reading->asked->column[w], (unsigned char)*at);
			break;
		}
	if (*count == CSV_TABLE_LABELS) {
		csv_file_complain(&reading->file, reading->file.line,
		    "'%s' has more than %d different entries",
		    reading->asked->column[w], CSV_TABLE_LABELS);
		return false;
	}
	if (*count == reading->name_room[w]) {
		size_t room = *count ? *count * 2 : 16;
		char **names = realloc(table->names[w], room * sizeof *names);
		if (!names)
			return lose_memory(reading);
		table->names[w] = names;
		reading->name_room[w] = room;
	}
	table->names[w][*count] = strdup(cell);
	if (!table->names[w][*count])
		return lose_memory(reading);
	table->label[w][table->count] = (unsigned)(*count)++;
	return true;
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
		return lose_memory(reading);
	table->values = values;
	for (size_t w = 0; w + 1 < reading->asked->column_count; w++) {
		unsigned *label = realloc(table->label[w], room * sizeof *label);
		if (!label)
			return lose_memory(reading);
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
		if (!read_label(reading, w, reading->field[reading->place[w]]))
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

/* The rest of the file, whose header is `header`. */
static bool
read_below(struct table_reading *reading, char *header)
{
	struct csv_file *file = &reading->file;
	int line = file->line;
	char *record = csv_file_record(file, CSV_ANY);
	int below = file->line;

	reading->separator = find_separator(reading->asked, header, record);
	file->line = line;
	if (!read_header(reading, header))
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
		lose_memory(reading);
	free(header);
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
