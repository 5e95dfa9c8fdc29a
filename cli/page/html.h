/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of the HTML page share.  For them alone. */
#ifndef CLI_PAGE_HTML_H
#define CLI_PAGE_HTML_H

#include "cli/page/table.h"
#include "daemon/base/text.h"

/* Words as text or in an attribute: nothing in them is taken for markup, and what no
 * document can hold is shown as U+FFFD. */
void html_put_escaped(FILE *out, const char *words);

/* The class of a tone; NULL: none. */
const char *html_class(enum page_tone tone);

/* An element of words. */
void html_put_element(
    FILE *out, const char *element, enum page_tone tone, const char *words);

/* A table of the page, each of its blocks by itself; `number` counts those so far.  After
 * table_end. */
void html_put_table(FILE *out, const struct table *table, size_t *number);

/* The headings of a page, in order: the first has the id "s1". */
struct html_heading {
	int level;
	size_t at; /* of its NUL-terminated words */
};

struct html_contents {
	struct text words;
	struct html_heading *headings;
	size_t count, room;
	bool failed; /* memory was short */
};

void html_contents_init(struct html_contents *contents);
void html_contents_release(struct html_contents *contents);
void html_contents_add(struct html_contents *contents, int level, const char *heading);

/* The list of them with links, where they are too many to be seen at once. */
void html_contents_put(const struct html_contents *contents, FILE *out);

#endif
