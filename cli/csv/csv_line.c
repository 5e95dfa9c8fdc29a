/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/csv/csv_line.h"

#include <assert.h>
#include <stdbool.h>
#include <string.h>

#include "cli/csv/csv_column.h"

static bool
parts(char byte, char separator)
{
	return separator == CSV_ANY ? byte == ',' || byte == ';' || byte == '\t'
	                            : byte == separator;
}

static bool
is_blank(char byte, char separator)
{
	return (byte == ' ' || byte == '\t') && !parts(byte, separator);
}

static char *
skip_blanks(char *at, char separator)
{
	while (is_blank(*at, separator))
		at++;
	return at;
}

/* A field in quotes that begins at `at`, in place; `*at` goes on to its separator or the
 * end.  NULL when the quotes do not end. */
static char *
unquote(char **at, char separator)
{
	char *field = *at + 1, *to = field, *from = field;

	for (; *from && !(from[0] == '"' && from[1] != '"'); from++) {
		from += from[0] == '"'; /* of a pair, one */
		*to++ = *from;
	}
	if (*from != '"')
		return NULL;
	*at = skip_blanks(from + 1, separator);
	*to = '\0';
	return field;
}

static_assert(CSV_FIELDS == 512, "the sentence says so");

const char *
csv_line_split(char *line, char separator, char *fields[], int *count)
{
	const char part[] = {separator, '\0'};
	char *at = line;

	for (*count = 0;; at++) {
		char *field = skip_blanks(at, separator);
		bool more;
		if (*count == CSV_FIELDS)
			return "more than 512 fields";
		if (*field == '"') {
			at = field;
			field = unquote(&at, separator);
			if (!field)
				return "quotes that do not end";
			if (*at && *at != separator)
				return "quotes that end within a field";
			more = *at == separator;
			*at = '\0';
		} else {
			at = field + strcspn(field, part);
			more = *at == separator;
			*at = '\0';
			for (char *end = at; end > field && strchr(" \t", end[-1]);)
				*--end = '\0';
		}
		fields[(*count)++] = field;
		if (!more)
			return NULL;
	}
}

/* Where one stands while going over a record byte by byte. */
enum place { PLACE_BEFORE, PLACE_PLAIN, PLACE_QUOTED, PLACE_QUOTE, PLACE_WRONG };

/* Behind one more byte; PLACE_BEFORE also behind a separator. */
static enum place
go_on(enum place place, char byte, char separator)
{
	switch (place) {
	case PLACE_BEFORE:
		return byte == '"'                 ? PLACE_QUOTED
		       : parts(byte, separator)    ? PLACE_BEFORE
		       : is_blank(byte, separator) ? PLACE_BEFORE
		                                   : PLACE_PLAIN;
	case PLACE_PLAIN:
		return parts(byte, separator) ? PLACE_BEFORE : PLACE_PLAIN;
	case PLACE_QUOTED:
		return byte == '"' ? PLACE_QUOTE : PLACE_QUOTED;
	case PLACE_QUOTE: /* the quotes have ended, or this one is one of a pair */
		return byte == '"'                                 ? PLACE_QUOTED
		       : parts(byte, separator)                    ? PLACE_BEFORE
		       : byte == '\r' || is_blank(byte, separator) ? PLACE_QUOTE
		                                                   : PLACE_WRONG;
	case PLACE_WRONG:
		break;
	}
	return PLACE_WRONG;
}

int
csv_line_count(const char *line, char separator)
{
	enum place place = PLACE_BEFORE;
	int count = 1;

	for (; *line; line++) {
		count += *line == separator && place != PLACE_QUOTED;
		place = go_on(place, *line, separator);
	}
	return count;
}

size_t
csv_line_end(const char *bytes, size_t length, char separator)
{
	enum place place = PLACE_BEFORE;

	for (size_t i = 0; i < length && place != PLACE_WRONG; i++) {
		if (bytes[i] == '\n' && place != PLACE_QUOTED)
			return i;
		place = go_on(place, bytes[i], separator);
	}
	return length;
}
