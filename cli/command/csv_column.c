/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/csv_column.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "conf/settings.h"
#include "daemon/base/text.h"

struct reading {
	const char *path; /* as it is shown */
	FILE *in;
	int line;
	struct problems *problems;
	const struct csv_wanted *wanted;
	size_t wanted_count;
	size_t field_count;        /* of the header */
	int place[CSV_WANTED];     /* which field; -1: none */
	double before[CSV_WANTED]; /* the latest of an ascending column; NAN: none */
	struct csv_columns *columns;
	size_t room; /* rows */
	char *text;  /* a line, CSV_LINE bytes */
	char *field[CSV_FIELDS];
};

/* --- mistakes ------------------------------------------------------------------ */

/* Line 0: the file as a whole. */
__attribute__((format(printf, 3, 4))) static void
complain(struct reading *reading, int line, const char *format, ...)
{
	struct problems *problems = reading->problems;
	char sentence[800];
	va_list arguments;

	if (problems->count >= SETTINGS_PROBLEMS) {
		problems->count++;
		return;
	}
	va_start(arguments, format);
	vsnprintf(sentence, sizeof sentence, format, arguments);
	va_end(arguments);
	struct problem *problem = &problems->list[problems->count++];
	problem->line = line;
	if (line > 0)
		snprintf(problem->text, sizeof problem->text, "%.200s:%d: %s",
		    reading->path, line, sentence);
	else
		snprintf(problem->text, sizeof problem->text, "%.200s: %s",
		    reading->path, sentence);
}

static bool
lose_memory(struct reading *reading)
{
	complain(reading, 0, "out of memory");
	return false;
}

/* --- lines and fields -------------------------------------------------------------- */

/* The next line without its end; false at the end of the file or past what is read. */
static bool
next_line(struct reading *reading)
{
	size_t length;

	if (!fgets(reading->text, CSV_LINE, reading->in)) {
		if (ferror(reading->in))
			complain(reading, 0, "cannot be read further than line %d",
			    reading->line);
		return false;
	}
	reading->line++;
	length = strlen(reading->text);
	if (length + 1 == CSV_LINE) {
		complain(reading, reading->line, "the line is longer than %d bytes",
		    CSV_LINE - 2);
		return false;
	}
	while (length > 0 && strchr("\r\n", reading->text[length - 1]))
		reading->text[--length] = '\0';
	return true;
}

static char *
trim(char *field)
{
	char *end;

	field += strspn(field, " \t");
	end = field + strlen(field);
	while (end > field && strchr(" \t", end[-1]))
		*--end = '\0';
	return field;
}

/* A field in quotes that begins at `at`, in place; `*at` goes on to its comma or the
 * end.  NULL when the quotes do not end. */
static char *
unquote(char **at)
{
	char *field = *at + 1, *to = field, *from = field;

	for (; *from && !(from[0] == '"' && from[1] != '"'); from++) {
		from += from[0] == '"'; /* of a pair, one */
		*to++ = *from;
	}
	if (*from != '"')
		return NULL;
	*at = from + 1 + strspn(from + 1, " \t");
	*to = '\0';
	return field;
}

/* Parts the line in place; how many fields, or -1 after a complaint. */
static int
split(struct reading *reading)
{
	char *at = reading->text;
	int count = 0;

	for (;; at++) {
		char *field = at + strspn(at, " \t");
		bool more;
		if (count == CSV_FIELDS) {
			complain(
			    reading, reading->line, "more than %d fields", CSV_FIELDS);
			return -1;
		}
		if (*field == '"') {
			at = field;
			field = unquote(&at);
			if (!field || (*at && *at != ',')) {
				complain(reading, reading->line,
				    "quotes that do not end before a comma");
				return -1;
			}
		} else {
			at += strcspn(at, ",");
		}
		more = *at == ',';
		*at = '\0';
		reading->field[count++] = trim(field);
		if (!more)
			return count;
	}
}

/* --- the header ---------------------------------------------------------------------- */

static void
complain_of_header(struct reading *reading, const struct csv_wanted *wanted)
{
	const char *names[CSV_FIELDS];
	size_t count = 0;

	if (reading->field_count == 1 && strchr(reading->field[0], ';')) {
		complain(reading, reading->line,
		    "the columns are parted by ';', must be by ',' (and numbers "
		    "written with a point)");
		return;
	}
	for (size_t i = 0; i < reading->field_count; i++)
		names[count++] = reading->field[i];
	const char *near = text_nearest(wanted->name, names, count);
	complain(reading, reading->line, "the header has no column '%s'%s%s%s",
	    wanted->name, near ? "; is '" : "", near ? near : "",
	    near ? "' meant?" : "");
}

/* Where the wanted columns stand. */
static bool
read_header(struct reading *reading)
{
	size_t before = reading->problems->count;
	int count = split(reading);

	if (count < 0)
		return false;
	reading->field_count = (size_t)count;
	for (size_t w = 0; w < reading->wanted_count; w++) {
		const struct csv_wanted *wanted = &reading->wanted[w];
		reading->place[w] = -1;
		for (int i = 0; i < count; i++) {
			if (strcmp(reading->field[i], wanted->name) != 0)
				continue;
			if (reading->place[w] >= 0)
				complain(reading, reading->line,
				    "the header has '%s' twice", wanted->name);
			reading->place[w] = i;
		}
		if (reading->place[w] < 0 && wanted->required)
			complain_of_header(reading, wanted);
	}
	return reading->problems->count == before;
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
			complain(
			    reading, reading->line, "there is no '%s'", wanted->name);
		return NAN;
	}
	if (!text_number(field, &value)) {
		complain(reading, reading->line,
		    "'%s' is '%.40s', must be a number, or empty where there is no "
		    "reading",
		    wanted->name, field);
		return NAN;
	}
	if (wanted->minimum < wanted->maximum &&
	    (value < wanted->minimum || value > wanted->maximum)) {
		complain(reading, reading->line, "'%s' is %.40s, must be %g..%g%s",
		    wanted->name, field, wanted->minimum, wanted->maximum,
		    wanted->filled ? "" : ", or empty where there is no reading");
		return NAN;
	}
	if (wanted->ascending && value <= reading->before[w])
		complain(reading, reading->line,
		    "'%s' is %.40s, must be above that of the row before (%g)",
		    wanted->name, field, reading->before[w]);
	reading->before[w] = value;
	return value;
}

static bool
read_row(struct reading *reading)
{
	struct csv_columns *columns = reading->columns;
	int count = split(reading);

	if (count < 0)
		return true;
	if ((size_t)count != reading->field_count) {
		complain(reading, reading->line,
		    "%d fields, must be %zu as the header has", count,
		    reading->field_count);
		return true;
	}
	if (columns->count >= CSV_ROWS) {
		complain(reading, reading->line, "more than %d rows", CSV_ROWS);
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
	columns->line[columns->count++] = reading->line;
	return true;
}

static void
read_all(struct reading *reading)
{
	static const char mark[] = "\xef\xbb\xbf";
	bool headed = false;

	for (size_t w = 0; w < CSV_WANTED; w++)
		reading->before[w] = NAN;
	while (next_line(reading)) {
		if (reading->line == 1 && strncmp(reading->text, mark, 3) == 0)
			memmove(reading->text, reading->text + 3,
			    strlen(reading->text + 3) + 1);
		if (reading->text[strspn(reading->text, " \t")] == '\0') /* empty */
			continue;
		if (!headed && !read_header(reading))
			return;
		if (headed && !read_row(reading))
			return;
		headed = true;
	}
	if (reading->problems->count > 0)
		return;
	if (!headed)
		complain(reading, 0, "is empty; its first line must name the columns");
	else if (reading->columns->count == 0)
		complain(reading, 0, "has a header and no rows");
}

static FILE *
open_file(struct reading *reading, FILE *in)
{
	struct stat about;

	if (strcmp(reading->path, "-") == 0) {
		reading->path = "standard input";
		return in;
	}
	FILE *file = fopen(reading->path, "r");
	if (!file) {
		/* The only thread. NOLINTNEXTLINE(concurrency-mt-unsafe) */
		complain(reading, 0, "cannot be read: %s", strerror(errno));
		return NULL;
	}
	if (fstat(fileno(file), &about) == 0 && S_ISDIR(about.st_mode)) {
		complain(reading, 0, "is a folder");
		fclose(file);
		return NULL;
	}
	return file;
}

bool
csv_columns_read(struct csv_columns *columns, const char *path, FILE *in,
    const struct csv_wanted *wanted, size_t wanted_count, struct problems *problems)
{
	struct reading *reading = calloc(1, sizeof *reading);

	*columns = (struct csv_columns){0};
	problems->count = 0;
	if (!reading || !(reading->text = malloc(CSV_LINE))) {
		free(reading);
		struct reading told = {.path = path, .problems = problems};
		return lose_memory(&told);
	}
	reading->path = path;
	reading->problems = problems;
	reading->wanted = wanted;
	reading->wanted_count = wanted_count;
	reading->columns = columns;
	reading->in = open_file(reading, in);
	if (reading->in) {
		read_all(reading);
		if (reading->in != in)
			fclose(reading->in);
	}
	free(reading->text);
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

size_t
csv_columns_series(
    const struct csv_columns *columns, size_t column, double *s, double *values)
{
	size_t count = 0;

	for (size_t i = 0; columns->values[column] && i < columns->count; i++) {
		if (isnan(columns->values[column][i]))
			continue;
		s[count] = columns->values[0][i];
		values[count++] = columns->values[column][i];
	}
	return count;
}
