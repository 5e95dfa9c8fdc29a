/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/csv/csv_header.h"

#include <stdio.h>
#include <string.h>

#include "cli/csv/csv_column.h"
#include "cli/csv/csv_file.h"
#include "daemon/base/text.h"

enum { NAMES_SHOWN = 8 };

int
csv_header_find(char *const *field, size_t count, const char *name)
{
	for (size_t i = 0; i < count; i++)
		if (strcmp(field[i], name) == 0)
			return (int)i;
	return -1;
}

int
csv_header_clean(char *const *field, size_t count, unsigned char *byte)
{
	for (size_t i = 0; i < count; i++)
		for (char *at = field[i]; *at; at++) {
			if (*at == '\n' || *at == '\r' || *at == '\t')
				*at = ' ';
			*byte = (unsigned char)*at;
			if (csv_is_control(*at))
				return (int)i;
		}
	return -1;
}

/* A name that may be meant: to any of three letters half of all others are near. */
static const char *
find_near(char *const *field, size_t count, const char *name)
{
	const char *names[CSV_FIELDS];
	const char *near;

	for (size_t i = 0; i < count; i++)
		names[i] = field[i];
	near = text_nearest(name, names, count);
	if (near && strlen(name) < 5 && strcasecmp(near, name) != 0)
		return NULL;
	return near;
}

void
csv_header_hint(
    char *const *field, size_t count, const char *name, char hint[static CSV_HINT])
{
	const char *near = find_near(field, count, name);
	size_t at = 0;

	if (near) {
		snprintf(hint, CSV_HINT, "; is '%.100s' meant?", near);
		return;
	}
	*hint = '\0';
	for (size_t i = 0; i < count && i < NAMES_SHOWN; i++)
		at += (size_t)snprintf(hint + at, CSV_HINT - at, "%s%.40s",
		    i > 0 ? ", " : "; it has ", field[i]);
	if (count > NAMES_SHOWN)
		snprintf(hint + at, CSV_HINT - at, " ...");
}
