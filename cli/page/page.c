/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/page.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "cli/page/writer.h"
#include "cli/picture/picture.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { SENTENCE = 2048, NAMES_MAX_BYTES = 1 << 16 };

struct page {
	const struct writer *writer;
	void *state;
	bool one;           /* picture alone */
	const char *chosen; /* its name; NULL: the first */
	bool found;         /* it was there */
	bool failed;
	size_t pictures;
	struct text names; /* of the pictures so far */
};

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
		page->writer = &page_html_writer;
		page->state = page_html_new(out);
		break;
	case PAGE_PDF:
		page->writer = &page_pdf_writer;
		page->state = page_pdf_new(out);
		break;
	case PAGE_SVG:
	case PAGE_PNG:
		page->one = true;
		page->writer = &page_drawing_writer;
		page->state = page_drawing_new(out, format);
		break;
	}
	text_init(&page->names, NAMES_MAX_BYTES);
	if (!page->state) {
		free(page);
		return NULL;
	}
	return page;
}

void
page_set_width(struct page *page, int columns)
{
	if (page->writer->set_width)
		page->writer->set_width(page->state, columns);
}

void
page_fail(struct page *page)
{
	page->failed = true;
}

int
page_end(struct page *page)
{
	int code = page->writer->end(page->state);

	if (page->failed)
		code = ERROR_MEMORY;
	text_release(&page->names);
	free(page);
	return code;
}

void
page_title(struct page *page, const char *title)
{
	if (page->writer->title)
		page->writer->title(page->state, title);
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

bool
page_draws(const struct page *page)
{
	return page->writer->picture;
}

void
page_picture(struct page *page, const struct picture *picture, const char *caption)
{
	bool chosen = !page->chosen;

	if (page->chosen)
		chosen = !page->found && strcmp(page->chosen, picture->name) == 0;
	text_printf(
	    &page->names, "%s'%s'", page->pictures > 0 ? ", " : "", picture->name);
	page->pictures++;
	page->found = page->chosen ? page->found || chosen : page->pictures == 1;
	if (page->writer->picture && (chosen || !page->one))
		page->writer->picture(page->state, picture, caption);
}

void
page_choose_picture(struct page *page, const char *name)
{
	page->chosen = name;
}

size_t
page_pictures(const struct page *page, bool *found)
{
	*found = page->found;
	return page->pictures;
}

const char *
page_picture_names(const struct page *page)
{
	return page->names.bytes ? page->names.bytes : "";
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
	if (page->writer->across)
		page->writer->across(page->state, tone, sentence);
}

void
page_table_end(struct page *page)
{
	page->writer->table_end(page->state);
}
