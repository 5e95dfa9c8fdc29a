/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A page with one of everything, its words drawn at random from what means something to
 * formats and from what means nothing anywhere. */
#ifndef TESTS_UNIT_CLI_PAGE_ANYTHING_H
#define TESTS_UNIT_CLI_PAGE_ANYTHING_H

#include <string.h>

#include "cli/page/page.h"
#include "cli/picture/picture.h"

static inline unsigned
anything_number(unsigned *seed, unsigned below)
{
	*seed = *seed * 1103515245u + 12345u;
	return (*seed >> 16) % below;
}

/* Of pieces that mean something in markup, bytes that mean nothing anywhere. */
static inline const char *
anything_words(unsigned *seed, char words[static 200])
{
	static const char *const pieces[] = {"<script>alert(1)</script>", "\"", "'",
	    "&", "<", ">", "</title>", "</style>", "<!--", "-->", "]]>", "&amp;", "\r",
	    "\n", "\t", "\a", "\x1b[31m", "\x7f", "\xc2\x85", "\xff", "\xc3",
	    "\xed\xa0\x80", "\xef\xbf\xbe", "\xef\xb7\x90", "\xf4\x90\x80\x80",
	    "\xc3\xa9", "\xe2\x80\xae", "\xf0\x9f\x94\xa5", "word", " ",
	    "\" onload=\"x", "' onload='x", "javascript:"};
	size_t used = 0;

	words[0] = '\0';
	for (unsigned i = anything_number(seed, 7); i > 0; i--) {
		const char *piece =
		    pieces[anything_number(seed, sizeof pieces / sizeof pieces[0])];
		if (used + strlen(piece) >= 200)
			continue;
		while (*piece)
			words[used++] = *piece++;
		words[used] = '\0';
	}
	return words;
}

static inline void
anything_put(struct page *page, const struct picture *picture, unsigned *seed)
{
	char a[200], b[200], c[200];
	struct picture any = *picture;
	struct cell cells[4];
	struct column titles[4];
	char title[4][200], cell[4][200];

	page_title(page, anything_words(seed, a));
	page_open(page, GROUP_OBJECT, "a", anything_words(seed, a));
	page_note(page, "b", (enum page_tone)anything_number(seed, 5), "%s",
	    anything_words(seed, a));
	page_field(
	    page, "c", anything_words(seed, a), cell_words(anything_words(seed, b)));
	cells[0] = cell_absent(anything_words(seed, a));
	cells[1] = cell_count(1);
	cells[1].instead = anything_words(seed, b);
	page_list(page, "d", anything_words(seed, c), cells, 2);
	any.title = anything_words(seed, a);
	any.description = anything_words(seed, b);
	any.what = anything_words(seed, c);
	page_picture(page, &any, any.what);
	for (int i = 0; i < 4; i++) {
		titles[i] = (struct column){
		    "x", anything_words(seed, title[i]), i == 3 ? 1 : 0};
		cells[i] = cell_words(anything_words(seed, cell[i]));
		cells[i].tone = (enum page_tone)anything_number(seed, 5);
	}
	page_table(page, "e", anything_words(seed, a), titles, 4);
	page_row(page, cells);
	page_across(page, TONE_BAD, anything_words(seed, b));
	page_row(page, cells);
	page_table_end(page);
	page_close(page);
}

#endif
