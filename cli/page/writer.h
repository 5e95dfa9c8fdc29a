/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a format has to do for the page, and what formats share.  For the files of this
 * folder alone.  A format sees an item only where it has the key (machines) or the
 * title (people) for it.
 */
#ifndef CLI_PAGE_WRITER_H
#define CLI_PAGE_WRITER_H

#include "cli/page/page.h"

struct text;

enum { WRITER_COLUMNS = 96, WRITER_DEPTH = 16 };

struct writer {
	/* NULL: the format has none. */
	void (*title)(void *state, const char *title);
	void (*open)(
	    void *state, enum page_group group, const char *key, const char *heading);
	void (*close)(void *state);
	void (*note)(
	    void *state, const char *key, enum page_tone tone, const char *sentence);
	void (*field)(
	    void *state, const char *key, const char *label, const struct cell *cell);
	void (*table)(void *state, const char *key, const char *heading,
	    const struct column *columns, size_t count);
	void (*row)(void *state, const struct cell *cells);
	/* NULL: the format has none. */
	void (*across)(void *state, enum page_tone tone, const char *sentence);
	void (*table_end)(void *state);
	/* NULL: the format has none. */
	void (*list)(void *state, const char *key, const char *label,
	    const struct cell *cells, size_t count);
	/* NULL: the format shows none. */
	void (*picture)(
	    void *state, const struct picture *picture, const char *caption);
	/* NULL: it does not count in columns. */
	void (*set_width)(void *state, int columns);
	int (*end)(void *state); /* completes, frees `state`; 0 or ERROR_MEMORY */
};

/* Each gives the state for its writer, or NULL when memory is short. */
void *page_text_new(FILE *out, bool colour);
void *page_json_new(FILE *out);
void *page_csv_new(FILE *out, const char *table);
void *page_html_new(FILE *out);
void *page_pdf_new(FILE *out);
void *page_drawing_new(FILE *out, enum page_format format); /* PAGE_SVG or PAGE_PNG */
extern const struct writer page_text_writer, page_json_writer, page_csv_writer,
    page_html_writer, page_pdf_writer, page_drawing_writer;

/* A JSON value: a string with its quotes, a number that reads back the same, null, true ... */
void page_json_value(struct text *text, const struct cell *cell);

#endif
