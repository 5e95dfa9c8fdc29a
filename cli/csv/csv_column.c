/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/csv/csv_column.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "cli/csv/csv_line.h"
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

/* Parts the line in place; how many fields, or -1 after a complaint. */
static int
split(struct reading *reading)
{
	int count;
	const char *wrong = csv_line_split(reading->text, reading->field, &count);

	if (!wrong)
		return count;
	complain(reading, reading->line, "%s", wrong);
	return -1;
}

/* --- the header ---------------------------------------------------------------------- */

enum { NAMES_SHOWN = 8 };

/* What other programs part columns by. */
static bool
is_parted_otherwise(struct reading *reading)
{
	const char *header = reading->field[0];

	if (reading->field_count != 1)
		return false;
	if (strchr(header, ';'))
		complain(reading, reading->line,
		    "the columns are parted by ';', must be by ',' (and numbers "
		    "written with a point)");
	else if (strchr(header, '\t'))
		complain(reading, reading->line,
		    "the columns are parted by tabs, must be by ','");
	return strpbrk(header, ";\t") != NULL;
}

/* A name that may be meant: to any of three letters half of all others are near. */
static const char *
find_near(const struct reading *reading, const char *wanted)
{
	const char *names[CSV_FIELDS];
	const char *near;

	for (size_t i = 0; i < reading->field_count; i++)
		names[i] = reading->field[i];
	near = text_nearest(wanted, names, reading->field_count);
	if (near && strlen(wanted) < 5 && strcasecmp(near, wanted) != 0)
		return NULL;
	return near;
}

static void
complain_of_header(struct reading *reading, const struct csv_wanted *wanted)
{
	const char *near = find_near(reading, wanted->name);
	char hint[400] = "";
	size_t at = 0;

	if (is_parted_otherwise(reading))
		return;
	if (near)
		snprintf(hint, sizeof hint, "; is '%.100s' meant?", near);
	for (size_t i = 0; !near && i < reading->field_count && i < NAMES_SHOWN; i++)
		at += (size_t)snprintf(hint + at, sizeof hint - at, "%s%.40s",
		    i > 0 ? ", " : "; it has ", reading->field[i]);
	complain(reading, reading->line, "the header has no column '%s'%s%s%s%s%s",
	    wanted->name, wanted->or_else ? " or '" : "",
	    wanted->or_else ? wanted->or_else : "", wanted->or_else ? "'" : "", hint,
	    !near && reading->field_count > NAMES_SHOWN ? " ..." : "");
}

/* Which field it is, the first of several; -1: none. */
static int
find_field(const struct reading *reading, const char *name)
{
	for (size_t i = 0; i < reading->field_count; i++)
		if (strcmp(reading->field[i], name) == 0)
			return (int)i;
	return -1;
}

static void
find_place(struct reading *reading, size_t w)
{
	const struct csv_wanted *wanted = &reading->wanted[w];
	int place = find_field(reading, wanted->name);
	int other = wanted->or_else ? find_field(reading, wanted->or_else) : -1;

	reading->place[w] = place;
	if (place < 0 && other < 0 && wanted->required)
		complain_of_header(reading, wanted);
	if (place >= 0 && other >= 0)
		complain(reading, reading->line,
		    "the header has '%s' and '%s': leave one of them out", wanted->name,
		    wanted->or_else);
	for (size_t i = 0; place >= 0 && i < reading->field_count; i++)
		if ((int)i > place && strcmp(reading->field[i], wanted->name) == 0)
			complain(reading, reading->line, "the header has '%s' twice",
			    wanted->name);
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
	for (size_t w = 0; w < reading->wanted_count; w++)
		find_place(reading, w);
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
