/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A reader of line protocol that shares no code with what writes it, and takes only what
 * every store takes: see line_protocol.h.  It fails the test on anything else.
 */
#ifndef TESTS_UNIT_DAEMON_PUBLISH_SAFE_LINE_H
#define TESTS_UNIT_DAEMON_PUBLISH_SAFE_LINE_H

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <ctype.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/utf8.h"

enum { SAFE_TAGS = 16, SAFE_FIELDS = 512, SAFE_TEXT = 1024 };

struct safe_line {
	char measurement[32];
	int tag_count, field_count, string_count;
	char tag_names[SAFE_TAGS][64], tags[SAFE_TAGS][SAFE_TEXT];
	char field_names[SAFE_FIELDS][64], fields[SAFE_FIELDS][SAFE_TEXT];
	int64_t ns;
};

/* A name of letters, digits and _ up to `end`; behind it. */
static inline const char *
safe_name(const char *from, char end, char *to, size_t room)
{
	size_t length = strspn(from, "abcdefghijklmnopqrstuvwxyz0123456789_");

	assert_true(islower((unsigned char)*from) && length < room);
	assert_int_equal(from[length], end);
	memcpy(to, from, length);
	to[length] = '\0';
	assert_string_not_equal(to, "time");
	return from + length + 1;
}

/* A tag's value, to an unescaped ',' or ' ', unescaped. */
static inline const char *
safe_tag_value(const char *from, char *to)
{
	size_t length = 0;

	while (*from != ',' && *from != ' ') {
		unsigned char c = (unsigned char)*from++;
		assert_true(c > ' ' && c != 0x7f && c != '=');
		if (c == '\\') {
			assert_non_null(strchr(", =", *from));
			c = (unsigned char)*from++;
		}
		to[length++] = (char)c;
	}
	to[length] = '\0';
	assert_in_range(length, 1, 256);
	assert_true(utf8_is_valid(to, length));
	return from;
}

/* digits, and where there is a point digits on both sides; an exponent; an i. */
static inline const char *
safe_number(const char *from, char *to)
{
	const char *at = from + (*from == '-');
	size_t digits = strspn(at, "0123456789");
	bool whole = true;

	assert_true(digits > 0);
	at += digits;
	if (*at == '.') {
		digits = strspn(++at, "0123456789");
		assert_true(digits > 0);
		at += digits;
		whole = false;
	}
	if (*at == 'e') {
		at += 1 + (at[1] == '-' || at[1] == '+');
		digits = strspn(at, "0123456789");
		assert_true(digits > 0);
		at += digits;
		whole = false;
	}
	if (*at == 'i') {
		assert_true(whole);
		at++;
	}
	memcpy(to, from, (size_t)(at - from));
	to[at - from] = '\0';
	return at;
}

static inline const char *
safe_string(const char *from, char *to)
{
	size_t length = 0;

	assert_int_equal(*from++, '"');
	while (*from != '"') {
		unsigned char c = (unsigned char)*from++;
		assert_true(c >= ' ' && c != 0x7f);
		if (c == '\\') {
			assert_true(*from == '"' || *from == '\\');
			c = (unsigned char)*from++;
		}
		to[length++] = (char)c;
	}
	to[length] = '\0';
	assert_true(utf8_is_valid(to, length));
	return from + 1;
}

static inline bool
safe_has(char (*names)[64], int count, const char *name)
{
	for (int i = 0; i < count; i++)
		if (strcmp(names[i], name) == 0)
			return true;
	return false;
}

/* Reads one line; behind its \n. */
static inline const char *
safe_line_read(struct safe_line *line, const char *from)
{
	char name[64];

	line->tag_count = line->field_count = line->string_count = 0;
	from = safe_name(from, ',', line->measurement, sizeof(line->measurement)) - 1;
	while (*from == ',') {
		from = safe_name(from + 1, '=', name, sizeof(name));
		assert_false(safe_has(line->tag_names, line->tag_count, name));
		strncpy(line->tag_names[line->tag_count], name, 64);
		from = safe_tag_value(from, line->tags[line->tag_count++]);
	}
	do {
		char *to = line->fields[line->field_count];
		from = safe_name(from + 1, '=', name, sizeof(name));
		assert_false(safe_has(line->field_names, line->field_count, name));
		assert_false(safe_has(line->tag_names, line->tag_count, name));
		strncpy(line->field_names[line->field_count++], name, 64);
		line->string_count += *from == '"';
		from = *from == '"' ? safe_string(from, to) : safe_number(from, to);
	} while (*from == ',');
	assert_int_equal(*from, ' ');
	assert_true(isdigit((unsigned char)from[1]));
	char *end;
	line->ns = strtoll(from + 1, &end, 10);
	assert_int_equal(*end, '\n');
	/* Not before a second of 1970, and whole milliseconds: all that some keep. */
	assert_true(line->ns >= 1000000000 && line->ns % 1000000 == 0);
	return end + 1;
}

/* NULL when it has no such tag, or field. */
static inline const char *
safe_line_tag(struct safe_line *line, const char *name)
{
	for (int i = 0; i < line->tag_count; i++)
		if (strcmp(line->tag_names[i], name) == 0)
			return line->tags[i];
	return NULL;
}

static inline const char *
safe_line_field(const struct safe_line *line, const char *name)
{
	for (int i = 0; i < line->field_count; i++)
		if (strcmp(line->field_names[i], name) == 0)
			return line->fields[i];
	return NULL;
}

#endif
