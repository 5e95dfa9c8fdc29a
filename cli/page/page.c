/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/page.h"

#include <stdarg.h>
#include <stdlib.h>

#include "cli/page/writer.h"
#include "daemon/base/error.h"

enum { SENTENCE = 2048 };

struct page {
	const struct writer *writer;
	void *state;
	size_t pictures;
};

struct cell
cell_absent(const char *words)
{
	return (struct cell){.kind = CELL_ABSENT, .words = words, .tone = TONE_FAINT};
}

struct cell
cell_words(const char *words)
{
	if (!words)
		return cell_absent(NULL);
	return (struct cell){.kind = CELL_WORDS, .words = words};
}

struct cell
cell_number(double number, int digits)
{
	return cell_shown(number, number, digits);
}

struct cell
cell_shown(double number, double shown, int digits)
{
	return (struct cell){
	    .kind = CELL_NUMBER, .number = number, .shown = shown, .digits = digits};
}

struct cell
cell_count(int64_t count)
{
	return (struct cell){.kind = CELL_COUNT, .count = count};
}

struct cell
cell_truth(bool truth)
{
	return (struct cell){.kind = CELL_TRUTH, .truth = truth};
}

struct cell
cell_time(struct wall time)
{
	if (time.ns == 0)
		return cell_absent(NULL);
	return (struct cell){.kind = CELL_TIME, .time = time};
}

struct page *
page_new(FILE *out, enum page_format format, bool colour, const char *csv_table)
{
	struct page *page = calloc(1, sizeof *page);

	if (!page)
		return NULL;
	switch (format) {
	case PAGE_TEXT:
		page->writer = &page_text_writer;
		page->state = page_text_new(out, colour);
		break;
	case PAGE_JSON:
		page->writer = &page_json_writer;
		page->state = page_json_new(out);
		break;
	case PAGE_CSV:
		page->writer = &page_csv_writer;
		page->state = page_csv_new(out, csv_table);
		break;
	case PAGE_HTML:
	case PAGE_PDF:
	case PAGE_SVG:
	case PAGE_PNG:
		break;
	}
	if (!page->state) {
		free(page);
		return NULL;
	}
	return page;
}

void
page_set_width(struct page *page, int columns)
{
	if (page->writer == &page_text_writer)
		page_text_set_width(page->state, columns);
}

int
page_end(struct page *page)
{
	int code = page->writer->end(page->state);

	free(page);
	return code;
}

void
page_open(
    struct page *page, enum page_group group, const char *key, const char *heading)
{
	page->writer->open(page->state, group, key, heading);
}

void
page_close(struct page *page)
{
	page->writer->close(page->state);
}

void
page_note(
    struct page *page, const char *key, enum page_tone tone, const char *format, ...)
{
	char sentence[SENTENCE];
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(sentence, sizeof sentence, format, arguments);
	va_end(arguments);
	page->writer->note(page->state, key, tone, sentence);
}

void
page_field(struct page *page, const char *key, const char *label, struct cell cell)
{
	page->writer->field(page->state, key, label, &cell);
}

void
page_list(struct page *page, const char *key, const char *label,
    const struct cell *cells, size_t count)
{
	if (page->writer->list)
		page->writer->list(page->state, key, label, cells, count);
}

void
page_picture(struct page *page, const struct picture *picture, const char *caption)
{
	page->pictures++;
	if (page->writer->picture)
		page->writer->picture(page->state, picture, caption);
}

void
page_choose_picture(struct page *page, const char *name)
{
	(void)page;
	(void)name;
}

size_t
page_pictures(const struct page *page, bool *found)
{
	*found = false;
	return page->pictures;
}

void
page_table(struct page *page, const char *key, const char *heading,
    const struct column *columns, size_t count)
{
	page->writer->table(page->state, key, heading, columns, count);
}

void
page_row(struct page *page, const struct cell *cells)
{
	page->writer->row(page->state, cells);
}

void
page_across(struct page *page, enum page_tone tone, const char *sentence)
{
	if (page->writer == &page_text_writer)
		page_text_across(page->state, tone, sentence);
}

void
page_table_end(struct page *page)
{
	page->writer->table_end(page->state);
}
