/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/csv/csv_file.h"

#include <errno.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "cli/csv/csv_column.h"
#include "cli/csv/csv_line.h"
#include "conf/settings.h"

bool
csv_is_control(char byte)
{
	return (unsigned char)byte < ' ' || byte == 0x7f;
}

void
csv_file_complain(struct csv_file *file, int line, const char *format, ...)
{
	struct problems *problems = file->problems;
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
		    file->path, line, sentence);
	else
		snprintf(problem->text, sizeof problem->text, "%.200s: %s", file->path,
		    sentence);
	/* whatever the file holds, a terminal is shown no control characters */
	for (char *at = problem->text; *at; at++)
		*at = csv_is_control(*at) ? '?' : *at;
}

static FILE *
open_path(struct csv_file *file)
{
	struct stat about;
	FILE *in = fopen(file->path, "r");

	if (!in) {
		/* The only thread. NOLINTNEXTLINE(concurrency-mt-unsafe) */
		csv_file_complain(file, 0, "cannot be read: %s", strerror(errno));
		return NULL;
	}
	if (fstat(fileno(in), &about) == 0 && S_ISDIR(about.st_mode)) {
		csv_file_complain(file, 0, "is a folder");
		fclose(in);
		return NULL;
	}
	return in;
}

bool
csv_file_open(
    struct csv_file *file, const char *path, FILE *in, struct problems *problems)
{
	*file = (struct csv_file){
	    .path = path, .problems = problems, .lent = strcmp(path, "-") == 0};
	problems->count = 0;
	if (file->lent)
		file->path = "standard input";
	file->in = file->lent ? in : open_path(file);
	if (!file->in)
		return false;
	file->bytes = malloc(CSV_LINE);
	if (!file->bytes)
		csv_file_complain(file, 0, "out of memory");
	return file->bytes != NULL;
}

void
csv_file_close(struct csv_file *file)
{
	if (file->in && !file->lent)
		fclose(file->in);
	free(file->bytes);
	*file = (struct csv_file){0};
}

/* Reads ahead; false when there is nothing more, or no room.  One byte is kept for the NUL. */
static bool
fill(struct csv_file *file)
{
	size_t kept = file->end - file->begin, got;

	if (file->ended || kept == CSV_LINE - 1)
		return false;
	memmove(file->bytes, file->bytes + file->begin, kept);
	got = fread(file->bytes + kept, 1, CSV_LINE - 1 - kept, file->in);
	file->begin = 0;
	file->end = kept + got;
	file->ended = got < CSV_LINE - 1 - kept;
	if (file->ended && ferror(file->in))
		csv_file_complain(
		    file, 0, "cannot be read further than line %d", file->lines);
	return got > 0;
}

/* How long the next line is, reading ahead as needed; what is left when no line feed
 * follows. */
static size_t
line_length(struct csv_file *file)
{
	for (;;) {
		const char *at = file->bytes + file->begin;
		size_t have = file->end - file->begin;
		const char *feed = memchr(at, '\n', have);
		if (feed)
			return (size_t)(feed - at);
		if (!fill(file))
			return file->end - file->begin;
	}
}

/* The same of the record: of several lines where quotes hold them together.  Wrong quotes
 * hold nothing together, lest the rest of the file should hang on them. */
static size_t
record_length(struct csv_file *file, char separator)
{
	size_t line = line_length(file), length;

	if (!memchr(file->bytes + file->begin, '"', line) ||
	    file->problems->count >= SETTINGS_PROBLEMS)
		return line;
	do
		length = csv_line_end(
		    file->bytes + file->begin, file->end - file->begin, separator);
	while (length == file->end - file->begin && fill(file));
	return length < file->end - file->begin ? length : line;
}

/* A carriage return that no line feed follows, other than at the end. */
static bool
has_lone_return(const char *record, size_t length)
{
	const char *end = record + length, *at = record;

	while ((at = memchr(at, '\r', (size_t)(end - at)))) {
		while (at < end && *at == '\r')
			at++;
		if (at < end && *at != '\n')
			return true;
	}
	return false;
}

/* Whether the record can be one at all. */
static bool
is_sound(struct csv_file *file, const char *record, size_t length)
{
	if (has_lone_return(record, length))
		csv_file_complain(file, file->line,
		    "has a carriage return within it: lines must end with a line feed, "
		    "alone or behind a carriage return");
	else if (length == CSV_LINE - 1)
		csv_file_complain(
		    file, file->line, "the line is longer than %d bytes", CSV_LINE - 2);
	else if (memchr(record, '\0', length))
		csv_file_complain(file, file->line,
		    "has a zero byte in it: is this UTF-16? it must be UTF-8");
	else
		return true;
	return false;
}

/* How many lines the record and its end are. */
static int
count_lines(const char *record, size_t length)
{
	int lines = 1;

	for (const char *feed = record;
	     (feed = memchr(feed, '\n', length - (size_t)(feed - record))); feed++)
		lines++;
	return lines;
}

char *
csv_file_record(struct csv_file *file, char separator)
{
	static const char mark[] = "\xef\xbb\xbf";
	size_t before = file->problems->count;
	size_t length = record_length(file, separator);
	char *record = file->bytes + file->begin;

	if (file->begin == file->end || file->problems->count > before)
		return NULL;
	file->line = file->lines + 1;
	if (!is_sound(file, record, length))
		return NULL;
	file->lines += count_lines(record, length);
	file->begin += length + (file->begin + length < file->end);
	while (length > 0 && record[length - 1] == '\r')
		length--;
	record[length] = '\0';
	return file->line == 1 && strncmp(record, mark, 3) == 0 ? record + 3 : record;
}

bool
csv_file_is_empty(const char *record)
{
	return record[strspn(record, " \t")] == '\0';
}
