/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/reader.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* Debian's library hands the line number over; the header has to be told. */
#define INI_HANDLER_LINENO 1
#include <ini.h>

#include "conf/mistakes.h"
#include "conf/value.h"
#include "daemon/base/utf8.h"

static const char blanks[] = " \t";

/* One line, without its line end. */
struct line {
	const char *from, *to;
	int number;
};

/* What is carried along while a text is read. */
struct pass {
	struct document *document;
	struct mistakes *mistakes;
	bool *is_entry; /* of each line, counted from 1: a setting, sound so far */
	size_t current; /* section that the entries belong to, counted from 1 */
	bool
	    early_noted; /* an entry before the first section has been complained about */
	bool out_of_memory;
};

/* --- the file --------------------------------------------------------------------- */

static int
line_of(const char *text, const char *at)
{
	int line = 1;

	for (; text < at; text++)
		line += *text == '\n';
	return line;
}

/* Reads to the end; the length, or -1 with errno. */
static ssize_t
read_all(int fd, char *bytes, size_t room)
{
	size_t length = 0;

	while (length < room) {
		ssize_t got = read(fd, bytes + length, room - length);

		if (got == 0)
			break;
		if (got < 0 && errno != EINTR)
			return -1;
		if (got > 0)
			length += (size_t)got;
	}
	return (ssize_t)length;
}

static char *
read_text(int fd, struct mistakes *mistakes)
{
	char *text = malloc(READER_BYTES + 2);
	ssize_t length;

	if (!text) {
		mistakes_add(mistakes, 0, "cannot be read: out of memory");
		return NULL;
	}
	length = read_all(fd, text, READER_BYTES + 1);
	if (length < 0) {
		mistakes_add(mistakes, 0, "cannot be read: %s", strerrordesc_np(errno));
	} else if (length > READER_BYTES) {
		mistakes_add(mistakes, 0,
		    "is longer than %d bytes: write a configuration, not data",
		    READER_BYTES);
	} else {
		text[length] = '\0';
		if (strlen(text) == (size_t)length)
			return text;
		mistakes_add(mistakes, line_of(text, text + strlen(text)),
		    "a byte 0 is no text: save the file as plain text in UTF-8");
	}
	free(text);
	return NULL;
}

char *
reader_load(const char *path, struct mistakes *mistakes)
{
	/* Not to wait for one who writes into a pipe. */
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
	char *text = NULL;
	struct stat status;

	if (fd < 0 || fstat(fd, &status) != 0)
		mistakes_add(mistakes, 0, "cannot be read: %s", strerrordesc_np(errno));
	else if (S_ISDIR(status.st_mode))
		mistakes_add(mistakes, 0, "is a directory: name a file in it");
	else if (!S_ISREG(status.st_mode))
		mistakes_add(mistakes, 0, "is no file: a pipe or a device is not read");
	else
		text = read_text(fd, mistakes);
	if (fd >= 0)
		close(fd);
	return text;
}

/* --- storage ---------------------------------------------------------------------- */

/* Room for one more behind `count` of them; NULL when memory is short. */
static void *
grow(void *array, size_t count, size_t size)
{
	if (count & (count - 1)) /* room comes in powers of two */
		return array;
	return realloc(array, (count ? 2 * count : 1) * size);
}

static char *
make_title(const char *kind, const char *name)
{
	char *title;

	return asprintf(&title, *name ? "[%s %s]" : "[%s%s]", kind, name) < 0 ? NULL
	                                                                      : title;
}

static void
add_section(struct pass *pass, int line, char *kind, char *name)
{
	struct document *document = pass->document;
	struct section *sections = document->sections;
	struct section section = {.line = line, .kind = kind, .name = name};

	if (kind && name)
		section.title = make_title(kind, name);
	if (section.title)
		sections = grow(sections, document->section_count, sizeof *sections);
	if (!section.title || !sections) {
		pass->out_of_memory = true;
		free(kind);
		free(name);
		free(section.title);
		return;
	}
	document->sections = sections;
	sections[document->section_count++] = section;
}

static struct entry *
add_entry(struct section *section, int line, const char *name, const char *value)
{
	struct entry *entries =
	    grow(section->entries, section->entry_count, sizeof *entries);
	struct entry *entry;

	if (!entries)
		return NULL;
	section->entries = entries;
	entry = entries + section->entry_count;
	*entry =
	    (struct entry){.line = line, .name = strdup(name), .value = strdup(value)};
	if (!entry->name || !entry->value) {
		free(entry->name);
		free(entry->value);
		return NULL;
	}
	section->entry_count++;
	return entry;
}

void
document_release(struct document *document)
{
	for (size_t i = 0; i < document->section_count; i++) {
		struct section *section = document->sections + i;

		for (size_t j = 0; j < section->entry_count; j++) {
			free(section->entries[j].name);
			free(section->entries[j].value);
		}
		free(section->entries);
		free(section->kind);
		free(section->name);
		free(section->title);
	}
	free(document->sections);
	*document = (struct document){0};
}

struct entry *
section_entry(const struct section *section, const char *name)
{
	for (size_t i = 0; i < section->entry_count; i++)
		if (strcmp(section->entries[i].name, name) == 0)
			return section->entries + i;
	return NULL;
}

/* --- our own pass: each line for itself ------------------------------------------- */

/* Nothing that makes the line look otherwise than it is read. */
static bool
check_characters(struct pass *pass, const struct line *line)
{
	for (const char *at = line->from; at < line->to;) {
		uint32_t point = utf8_next(&at);

		if (point != '\t' && utf8_steers(point)) {
			mistakes_add(pass->mistakes, line->number,
			    "control character U+%04" PRIX32 ": take it out", point);
			return false;
		}
	}
	return true;
}

/* Whether the line is text of a sane length. */
static bool
check_bytes(struct pass *pass, const struct line *line)
{
	size_t length = (size_t)(line->to - line->from);

	for (const char *at = line->from; at < line->to; at++) {
		unsigned char byte = (unsigned char)*at;

		if ((byte < 0x20 && byte != '\t') || byte == 0x7f) {
			mistakes_add(pass->mistakes, line->number,
			    "control character 0x%02x: take it out", byte);
			return false;
		}
	}
	if (!utf8_is_valid(line->from, length)) {
		mistakes_add(pass->mistakes, line->number,
		    "bytes that are not UTF-8: save the file as UTF-8");
		return false;
	}
	if (length > READER_LINE) {
		mistakes_add(pass->mistakes, line->number,
		    "line of %zu bytes: write at most %d", length, READER_LINE);
		return false;
	}
	return check_characters(pass, line);
}

/* Where the comment within a line begins: at a ';' after a blank; else its end. */
static const char *
comment_of(const char *from, const char *to)
{
	for (const char *at = from + 1; at < to; at++)
		if (*at == ';' && (at[-1] == ' ' || at[-1] == '\t'))
			return at;
	return to;
}

/* Cuts the blanks off both ends. */
static void
trim(const char **from, const char **to)
{
	while (*from < *to && strchr(blanks, **from))
		(*from)++;
	while (*from < *to && strchr(blanks, (*to)[-1]))
		(*to)--;
}

static void
read_section_line(struct pass *pass, const struct line *line)
{
	const char *end = comment_of(line->from, line->to);
	const char *close = memchr(line->from, ']', (size_t)(end - line->from));
	const char *from = line->from + 1, *to = close ? close : end;
	const char *behind = close ? close + 1 : end, *blank;

	trim(&behind, &end);
	trim(&from, &to);
	if (!close || behind < end || from == to)
		mistakes_add(pass->mistakes, line->number,
		    "'%.*s' is no section: write '[', its name and ']' alone in a line",
		    (int)(line->to - line->from), line->from);
	for (blank = from; blank < to && !strchr(blanks, *blank); blank++)
		;
	close = blank;
	trim(&blank, &to);
	add_section(pass, line->number, strndup(from, (size_t)(close - from)),
	    strndup(blank, (size_t)(to - blank)));
}

/* Whether the line has the form of a setting: name, '=', value. */
static bool
check_setting_line(struct pass *pass, const struct line *line)
{
	const char *end = comment_of(line->from, line->to), *from = line->from;
	size_t name = strcspn(line->from, "=:");

	if (line->from + name < end && line->from[name] == '=' && name > 0)
		return true;
	trim(&from, &end);
	mistakes_add(pass->mistakes, line->number,
	    "'%.*s' is no setting: write 'name = value'", (int)(end - from), from);
	return false;
}

static void
read_line(struct pass *pass, struct line line)
{
	if (!check_bytes(pass, &line))
		return;
	trim(&line.from, &line.to);
	if (line.from == line.to || *line.from == ';' || *line.from == '#')
		return;
	if (*line.from == '[')
		read_section_line(pass, &line);
	else
		pass->is_entry[line.number] = check_setting_line(pass, &line);
}

static void
read_lines(struct pass *pass, const char *text)
{
	struct line line = {.from = text, .number = 1};

	if (strncmp(text, "\xef\xbb\xbf", 3) == 0)
		line.from += 3;
	while (*line.from) {
		const char *end = strchrnul(line.from, '\n');

		line.to = end > line.from && end[-1] == '\r' ? end - 1 : end;
		read_line(pass, line);
		line.from = *end ? end + 1 : end;
		line.number++;
	}
}

/* --- inih: names and values ------------------------------------------------------- */

/* What no value may be, whatever it is for. */
static void
check_value(struct pass *pass, struct entry *entry)
{
	char text[SETTINGS_PATH];
	const char *shown = value_shown(entry->value, text);

	entry->bad = true;
	if (!*entry->value)
		mistakes_add(pass->mistakes, entry->line,
		    "'%s' is empty: write a value, or leave the line out", entry->name);
	else if (strchr(entry->value, ';'))
		mistakes_add(pass->mistakes, entry->line,
		    "'%s' is '%s': put a blank before the ';' of a comment",
		    entry->name, shown);
	else if (*entry->value == '"' || *entry->value == '\'')
		mistakes_add(pass->mistakes, entry->line,
		    "'%s' is %s: write it without quotes", entry->name, shown);
	else
		entry->bad = false;
}

/* The section that a setting in that line belongs to; NULL when it cannot have it. */
static struct section *
section_for(struct pass *pass, const char *name, int number)
{
	const struct document *document = pass->document;
	struct section *section;

	while (pass->current < document->section_count &&
	       document->sections[pass->current].line < number)
		pass->current++;
	if (pass->current == 0) {
		if (!pass->early_noted)
			mistakes_add(pass->mistakes, number,
			    "'%s' stands before the first section: write a line such "
			    "as [site] above it",
			    name);
		pass->early_noted = true;
		return NULL;
	}
	section = document->sections + pass->current - 1;
	if (section->entry_count < READER_ENTRIES)
		return section;
	if (!section->overfull)
		mistakes_add(pass->mistakes, number,
		    "more than %d settings in %s: leave some out", READER_ENTRIES,
		    section->title);
	section->overfull = true;
	return NULL;
}

static int
take_entry(void *arg, const char *inih_section, const char *name, const char *value,
    int number)
{
	struct pass *pass = arg;
	struct section *section;
	struct entry *entry;

	(void)inih_section; /* cut at 49 bytes; ours is whole */
	if (!pass->is_entry[number] || pass->out_of_memory)
		return 1;
	section = section_for(pass, name, number);
	if (!section)
		return 1;
	entry = add_entry(section, number, name, value);
	if (entry)
		check_value(pass, entry);
	else
		pass->out_of_memory = true;
	return 1;
}

/* Whole lines, no continuation lines: without these inih splits long lines in two
 * and cannot tell a continuation from a repeated name. */
static bool
read_entries(struct pass *pass, const char *text)
{
	ini_allow_multiline = false;
	ini_use_stack = false;
	ini_allow_realloc = true;
	ini_max_line = (int)strlen(text) + 4; /* below READER_BYTES + 4 */
	return ini_parse_string(text, take_entry, pass) != -2 && !pass->out_of_memory;
}

bool
document_read(struct document *document, const char *text, struct mistakes *mistakes)
{
	struct pass pass = {.document = document, .mistakes = mistakes};
	bool done;

	*document = (struct document){0};
	if (strlen(text) > READER_BYTES) {
		mistakes_add(mistakes, 0, "is longer than %d bytes", READER_BYTES);
		return false;
	}
	pass.is_entry = calloc(
	    (size_t)line_of(text, text + strlen(text)) + 2, sizeof *pass.is_entry);
	if (pass.is_entry)
		read_lines(&pass, text);
	done = pass.is_entry && !pass.out_of_memory && read_entries(&pass, text);
	free(pass.is_entry);
	if (!done)
		mistakes_add(mistakes, 0, "cannot be read: out of memory");
	if (done && document->section_count > READER_SECTIONS) {
		mistakes_add(mistakes, document->sections[READER_SECTIONS].line,
		    "more than %d sections: split the plant", READER_SECTIONS);
		done = false;
	}
	if (!done)
		document_release(document);
	return done;
}
