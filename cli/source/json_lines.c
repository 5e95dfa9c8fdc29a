/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/json_lines.h"

#include <string.h>

#include "daemon/base/error.h"

void
json_lines_init(struct json_lines *lines,
    int (*take)(void *arg, const json_t *document, struct error *error), void *arg)
{
	*lines = (struct json_lines){.take = take, .arg = arg};
	text_init(&lines->text, JSON_LINES_MOST);
}

void
json_lines_release(struct json_lines *lines)
{
	text_release(&lines->text);
}

static bool
is_blank(const char *bytes, size_t length)
{
	for (size_t i = 0; i < length; i++)
		if (strchr(" \t\r", bytes[i]) == NULL || bytes[i] == '\0')
			return false;
	return true;
}

static int
take_line(
    struct json_lines *lines, const char *bytes, size_t length, struct error *error)
{
	json_error_t trouble;

	if (is_blank(bytes, length))
		return 0;
	json_t *document = json_loadb(bytes, length, 0, &trouble);
	if (document == NULL)
		return json_error_code(&trouble) == json_error_out_of_memory
		           ? error_set(error, ERROR_MEMORY, "out of memory")
		           : error_set(error, ERROR_REFUSED,
				 "its answer is no JSON from byte %d of a line on",
				 trouble.position);
	int code = lines->take(lines->arg, document, error);
	json_decref(document);
	return code;
}

/* Keeps what is of a line whose end has not come. */
static int
keep(struct json_lines *lines, const char *bytes, size_t length, struct error *error)
{
	if (lines->text.length + length >= JSON_LINES_MOST)
		return error_set(error, ERROR_FULL, "its answer is too large");
	text_add(&lines->text, bytes, length);
	return lines->text.failed ? error_set(error, ERROR_MEMORY, "out of memory") : 0;
}

int
json_lines_feed(
    struct json_lines *lines, const char *bytes, size_t length, struct error *error)
{
	while (length > 0) {
		const char *end = memchr(bytes, '\n', length);
		size_t part = end != NULL ? (size_t)(end - bytes) : length;
		int code = 0;

		if (end == NULL)
			return keep(lines, bytes, part, error);
		if (lines->text.length == 0)
			code = take_line(lines, bytes, part, error);
		else if ((code = keep(lines, bytes, part, error)) == 0)
			code = json_lines_end(lines, error);
		if (code != 0)
			return code;
		bytes += part + 1;
		length -= part + 1;
	}
	return 0;
}

int
json_lines_end(struct json_lines *lines, struct error *error)
{
	int code = lines->text.length == 0
	               ? 0
	               : take_line(lines, lines->text.bytes, lines->text.length, error);

	text_clear(&lines->text);
	return code;
}
