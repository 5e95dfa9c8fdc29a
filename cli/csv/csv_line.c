/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/csv/csv_line.h"

#include <assert.h>
#include <stdbool.h>
#include <string.h>

#include "cli/csv/csv_column.h"

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

static_assert(CSV_FIELDS == 512, "the sentence says so");

const char *
csv_line_split(char *line, char *fields[], int *count)
{
	char *at = line;

	for (*count = 0;; at++) {
		char *field = at + strspn(at, " \t");
		bool more;
		if (*count == CSV_FIELDS)
			return "more than 512 fields";
		if (*field == '"') {
			at = field;
			field = unquote(&at);
			if (!field || (*at && *at != ','))
				return "quotes that do not end before a comma";
		} else {
			at += strcspn(at, ",");
		}
		more = *at == ',';
		*at = '\0';
		fields[(*count)++] = trim(field);
		if (!more)
			return NULL;
	}
}
