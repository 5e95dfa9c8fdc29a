/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * JSON (RFC 8259): one member a line, one row of a table a line.  Numbers read
 * back as the same double, times are UTC, what is not known is null.
 */
#include "cli/page/writer.h"

#include <assert.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>

#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

enum { LINE_MAX_BYTES = 1 << 20 };

struct json {
	FILE *out;
	struct text line;
	int depth;
	bool filled[WRITER_DEPTH]; /* something stands in the group already */
	char closing[WRITER_DEPTH];
	const struct column *columns; /* of the open table; NULL: not for machines */
	size_t column_count;
	bool failed;
};

static void
add_string(struct text *text, const char *string)
{
	const char *from = string;
	uint32_t point;

	text_puts(text, "\"");
	while ((point = utf8_next(&string)) != 0) {
		if (point == '"' || point == '\\')
			text_printf(text, "\\%c", (char)point);
		else if (utf8_steers(point) || point == 0xfffd)
			text_printf(text, "\\u%04" PRIx32, point);
		else
			text_add(text, from, (size_t)(string - from));
		from = string;
	}
	text_puts(text, "\"");
}

void
page_json_value(struct text *text, const struct cell *cell)
{
	char digits[CALENDAR_TEXT];

	switch (cell->kind) {
	case CELL_ABSENT:
		text_puts(text, "null");
		return;
	case CELL_WORDS:
		add_string(text, cell->words);
		return;
	case CELL_NUMBER:
		if (!isfinite(cell->number)) {
			text_puts(text, "null");
			return;
		}
		text_from_number(cell->number, digits, sizeof digits);
		text_puts(text, digits);
		return;
	case CELL_COUNT:
		text_printf(text, "%" PRId64, cell->count);
		return;
	case CELL_TRUTH:
		text_puts(text, cell->truth ? "true" : "false");
		return;
	case CELL_TIME:
		calendar_utc_text(cell->time, 3, digits);
		add_string(text, digits);
		return;
	}
}

static void
flush_line(struct json *json)
{
	if (json->line.failed)
		json->failed = true;
	else if (json->line.bytes)
		fwrite(json->line.bytes, 1, json->line.length, json->out);
	text_clear(&json->line);
}

/* The comma and the line end before a member, its indent and its key. */
static void
begin_member(struct json *json, const char *key)
{
	bool *filled = &json->filled[json->depth];

	text_puts(&json->line, *filled ? ",\n" : "\n");
	*filled = true;
	for (int i = 0; i <= json->depth; i++)
		text_puts(&json->line, "  ");
	if (key) {
		add_string(&json->line, key);
		text_puts(&json->line, ": ");
	}
}

static void
begin_group(struct json *json, char opening, char closing)
{
	text_add(&json->line, &opening, 1);
	json->depth++;
	assert(json->depth < WRITER_DEPTH);
	json->filled[json->depth] = false;
	json->closing[json->depth] = closing;
	flush_line(json);
}

static void
end_group(struct json *json)
{
	bool filled = json->filled[json->depth];

	assert(json->depth > 0);
	if (filled) {
		text_puts(&json->line, "\n");
		for (int i = 0; i < json->depth; i++)
			text_puts(&json->line, "  ");
	}
	text_add(&json->line, &json->closing[json->depth], 1);
	json->depth--;
	flush_line(json);
}

static void
json_open(void *state, enum page_group group, const char *key, const char *heading)
{
	bool list = group == GROUP_LIST;

	(void)heading;
	begin_member(state, group == GROUP_ITEM ? NULL : key);
	begin_group(state, list ? '[' : '{', list ? ']' : '}');
}

static void
json_close(void *state)
{
	end_group(state);
}

static void
json_field(void *state, const char *key, const char *label, const struct cell *cell)
{
	struct json *json = state;

	(void)label;
	if (!key)
		return;
	begin_member(json, key);
	page_json_value(&json->line, cell);
	flush_line(json);
}

static void
json_note(void *state, const char *key, enum page_tone tone, const char *sentence)
{
	struct cell cell = cell_words(sentence);

	(void)tone;
	json_field(state, key, NULL, &cell);
}

static void
json_table(void *state, const char *key, const char *heading,
    const struct column *columns, size_t count)
{
	struct json *json = state;

	(void)heading;
	if (!key)
		return;
	json->columns = columns;
	json->column_count = count;
	begin_member(json, key);
	begin_group(json, '[', ']');
}

static void
json_row(void *state, const struct cell *cells)
{
	struct json *json = state;
	const char *separator = "{";

	if (!json->columns)
		return;
	begin_member(json, NULL);
	for (size_t i = 0; i < json->column_count; i++) {
		if (!json->columns[i].key)
			continue;
		text_puts(&json->line, separator);
		separator = ", ";
		add_string(&json->line, json->columns[i].key);
		text_puts(&json->line, ": ");
		page_json_value(&json->line, &cells[i]);
	}
	text_puts(&json->line, "}");
	flush_line(json);
}

static void
json_table_end(void *state)
{
	struct json *json = state;

	if (json->columns)
		end_group(json);
	json->columns = NULL;
}

static void
json_list(void *state, const char *key, const char *label, const struct cell *cells,
    size_t count)
{
	struct json *json = state;

	(void)label;
	if (!key)
		return;
	begin_member(json, key);
	text_puts(&json->line, "[");
	for (size_t i = 0; i < count; i++) {
		if (i > 0)
			text_puts(&json->line, ", ");
		page_json_value(&json->line, &cells[i]);
	}
	text_puts(&json->line, "]");
	flush_line(json);
}

static int
json_end(void *state)
{
	struct json *json = state;
	bool failed;

	assert(json->depth == 0);
	fputs(json->filled[0] ? "\n}\n" : "}\n", json->out);
	failed = json->failed;
	text_release(&json->line);
	free(json);
	return failed ? ERROR_MEMORY : 0;
}

void *
page_json_new(FILE *out)
{
	struct json *json = calloc(1, sizeof *json);

	if (!json)
		return NULL;
	json->out = out;
	text_init(&json->line, LINE_MAX_BYTES);
	fputs("{", out);
	return json;
}

const struct writer page_json_writer = {
    .open = json_open,
    .close = json_close,
    .note = json_note,
    .field = json_field,
    .table = json_table,
    .row = json_row,
    .table_end = json_table_end,
    .list = json_list,
    .end = json_end,
};
