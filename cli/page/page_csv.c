/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * CSV (RFC 4180): one table with one header line.  Values as in JSON, without the
 * quotes that CSV does not need; what is not known is empty.
 *
 * Spreadsheets take words that begin with '=', '+', '-' or '@' for a formula and run it:
 * such words, unless they are a number, get an apostrophe before them, which makes them
 * words there.  Lots and tools are named by people: JSON has the names as they are.
 */
#include "cli/page/writer.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

enum { LINE_MAX_BYTES = 1 << 20 };

struct csv {
	FILE *out;
	const char *table; /* the key of the one that is written */
	struct text line;
	const struct column *columns; /* NULL: the open table is another one */
	size_t column_count;
	bool headed, failed;
};

static bool
is_formula(const char *words)
{
	double number;

	return *words && strchr("=+-@\t\r", *words) && !text_number(words, &number);
}

/* What no document can hold is U+FFFD. */
static void
add_words(struct text *text, const char *words)
{
	bool quoted = strpbrk(words, ",\"\r\n");
	const char *from = words;
	uint32_t point;

	text_puts(text, quoted ? "\"" : "");
	text_puts(text, is_formula(words) ? "'" : "");
	while ((point = utf8_next(&words)) != 0) {
		if (point == '"')
			text_puts(text, "\"\"");
		else if (!utf8_is_shown(point))
			text_puts(text, "\xef\xbf\xbd"); /* U+FFFD */
		else
			text_add(text, from, (size_t)(words - from));
		from = words;
	}
	text_puts(text, quoted ? "\"" : "");
}

static void
add_cell(struct text *text, const struct cell *cell)
{
	char time[CALENDAR_TEXT];

	switch (cell->kind) {
	case CELL_ABSENT:
		return;
	case CELL_WORDS:
		add_words(text, cell->words);
		return;
	case CELL_TIME:
		calendar_utc_text(cell->time, 3, time);
		text_puts(text, time);
		return;
	case CELL_NUMBER:
		if (!isfinite(cell->number))
			return;
		page_json_value(text, cell);
		return;
	case CELL_COUNT:
	case CELL_TRUTH:
		page_json_value(text, cell);
		return;
	}
}

static void
end_line(struct csv *csv)
{
	text_puts(&csv->line, "\r\n");
	if (csv->line.failed)
		csv->failed = true;
	else
		fwrite(csv->line.bytes, 1, csv->line.length, csv->out);
	text_clear(&csv->line);
}

/* The header as words, or a row, by `cells`. */
static void
write_line(struct csv *csv, const struct cell *cells)
{
	bool first = true;

	for (size_t i = 0; i < csv->column_count; i++) {
		if (!csv->columns[i].key)
			continue;
		if (!first)
			text_puts(&csv->line, ",");
		first = false;
		if (cells)
			add_cell(&csv->line, &cells[i]);
		else
			add_words(&csv->line, csv->columns[i].key);
	}
	end_line(csv);
}

static void
csv_open(void *state, enum page_group group, const char *key, const char *heading)
{
	(void)state, (void)group, (void)key, (void)heading;
}

static void
csv_close(void *state)
{
	(void)state;
}

static void
csv_note(void *state, const char *key, enum page_tone tone, const char *sentence)
{
	(void)state, (void)key, (void)tone, (void)sentence;
}

static void
csv_field(void *state, const char *key, const char *label, const struct cell *cell)
{
	(void)state, (void)key, (void)label, (void)cell;
}

static void
csv_table(void *state, const char *key, const char *heading,
    const struct column *columns, size_t count)
{
	struct csv *csv = state;

	(void)heading;
	if (!key || strcmp(key, csv->table) != 0)
		return;
	csv->columns = columns;
	csv->column_count = count;
	if (!csv->headed)
		write_line(csv, NULL);
	csv->headed = true;
}

static void
csv_row(void *state, const struct cell *cells)
{
	struct csv *csv = state;

	if (csv->columns)
		write_line(csv, cells);
}

static void
csv_table_end(void *state)
{
	struct csv *csv = state;

	csv->columns = NULL;
}

static int
csv_end(void *state)
{
	struct csv *csv = state;
	bool failed = csv->failed;

	text_release(&csv->line);
	free(csv);
	return failed ? ERROR_MEMORY : 0;
}

void *
page_csv_new(FILE *out, const char *table)
{
	struct csv *csv = calloc(1, sizeof *csv);

	if (!csv)
		return NULL;
	csv->out = out;
	csv->table = table;
	text_init(&csv->line, LINE_MAX_BYTES);
	return csv;
}

const struct writer page_csv_writer = {
    .open = csv_open,
    .close = csv_close,
    .note = csv_note,
    .field = csv_field,
    .table = csv_table,
    .row = csv_row,
    .table_end = csv_table_end,
    .end = csv_end,
};
