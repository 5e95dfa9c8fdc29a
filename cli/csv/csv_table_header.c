/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "cli/csv/csv_header.h"
#include "cli/csv/csv_line.h"
#include "cli/csv/csv_reading.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

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

char
csv_table_separator(
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

bool
csv_table_header(struct table_reading *reading, char *header)
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
