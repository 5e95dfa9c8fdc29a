/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A report written once: headings, sentences, fields and tables.  How they look
 * is the affair of a format: aligned text for people, JSON or CSV for machines.
 *
 * Keys are for machines and never change their meaning; titles, labels and
 * headings are for people.  Either may be NULL: then that audience does not see
 * the item.  Strings are lent for the call alone.  Nothing here reports a failed
 * write: look at ferror(out) afterwards.  One page belongs to one thread.
 */
#ifndef CLI_PAGE_PAGE_H
#define CLI_PAGE_PAGE_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum page_format {
	PAGE_TEXT,
	PAGE_JSON,
	PAGE_CSV,
	PAGE_HTML, /* one file: no scripts, nothing fetched */
	PAGE_PDF,  /* A4 */
	PAGE_SVG,  /* one picture alone: page_choose_picture */
	PAGE_PNG,
};

enum page_tone {
	TONE_PLAIN,
	TONE_STRONG,
	TONE_GOOD,
	TONE_BAD,
	TONE_FAINT,
};

enum cell_kind {
	CELL_ABSENT,
	CELL_WORDS,
	CELL_NUMBER,
	CELL_COUNT,
	CELL_TRUTH,
	CELL_TIME,
};

/* One value.  What machines get and what people get are the same fact: `number` is in
 * the unit that the key names, `shown` in the one that the site reads. */
struct cell {
	enum cell_kind kind;
	enum page_tone tone;
	int digits; /* after the point, of `shown` */
	double number, shown;
	int64_t count;
	bool truth;
	struct wall time;
	const char *words; /* of CELL_ABSENT: what people read instead; NULL: "-" */
	const char
	    *instead; /* people read this in place of the value; NULL: the value */
};

struct cell cell_absent(const char *words);
struct cell cell_words(const char *words); /* NULL is absent */
struct cell cell_number(double number, int digits);
struct cell cell_shown(double number, double shown, int digits);
struct cell cell_count(int64_t count);
struct cell cell_truth(bool truth);
struct cell cell_time(struct wall time); /* ns 0 is absent */

struct column {
	const char *key;   /* NULL: people alone */
	const char *title; /* NULL: machines alone */
	int block; /* people read the columns of block 0, 1 ... one under the other; one
	              that is too wide is folded likewise.  COLUMN_EACH, and always the
	              very first: stands before each block.  These come first.  A row
	              that has nothing in a block but the first one is left out there */
};
enum { COLUMN_EACH = -1 };

enum page_group {
	GROUP_OBJECT, /* a part with a key of its own */
	GROUP_LIST,   /* holds items alone */
	GROUP_ITEM,   /* one of a list; its key is not used */
};

struct page;

/*
 * Writes to `out`, which stays the caller's.  CSV holds one table: those with the key
 * `csv_table`, one under the other with one header.  NULL when memory is short.
 */
struct page *page_new(
    FILE *out, enum page_format format, bool colour, const char *csv_table);

/* Sentences and tables for people keep within so many columns; PAGE_WIDTH at first. */
enum { PAGE_WIDTH = 100 };
void page_set_width(struct page *page, int columns);

/* PAGE_SVG, PAGE_PNG: which picture is written, by its name, lent until the end; NULL: the
 * only one; of several none is.  What was there is known at the end: page_pictures. */
void page_choose_picture(struct page *page, const char *name);

/* How many pictures there were so far, and whether one of them is written. */
size_t page_pictures(const struct page *page, bool *found);

/* Their names, each in quotes, with commas; "" of none.  Lent until the next picture. */
const char *page_picture_names(const struct page *page);

/* Whether the format shows pictures: else none need be made. */
bool page_draws(const struct page *page);

/* What belongs to the page could not be made for want of memory: page_end says so. */
void page_fail(struct page *page);

/* Completes it and frees; 0, or ERROR_MEMORY when something was lost on the way. */
int page_end(struct page *page);

/* What the whole is about, for formats that make a document of it; before all else.  Where
 * there is none, the first heading stands for it. */
void page_title(struct page *page, const char *title);

void page_open(
    struct page *page, enum page_group group, const char *key, const char *heading);
void page_close(struct page *page);

/* A sentence. */
void page_note(struct page *page, const char *key, enum page_tone tone,
    const char *format, ...) __attribute__((format(printf, 4, 5)));

void page_field(
    struct page *page, const char *key, const char *label, struct cell cell);

/* An array of values for machines; for people one after the other, with commas. */
void page_list(struct page *page, const char *key, const char *label,
    const struct cell *cells, size_t count);

/* A drawing, for formats that can show one; its caption is a sentence under it, or NULL. */
struct picture;
void page_picture(
    struct page *page, const struct picture *picture, const char *caption);

/* Rows have as many cells as the table has columns; `heading` and `columns` are lent
 * until the end.  People do not see a table without rows. */
void page_table(struct page *page, const char *key, const char *heading,
    const struct column *columns, size_t count);
void page_row(struct page *page, const struct cell *cells);
/* A sentence of its own between two rows, for people. */
void page_across(struct page *page, enum page_tone tone, const char *sentence);
void page_table_end(struct page *page);

#endif
