/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/html.h"

#include <stdlib.h>
#include <string.h>

enum { WORDS_MAX_BYTES = 1 << 20, CONTENTS_LEAST = 5 };

void
html_contents_init(struct html_contents *contents)
{
	*contents = (struct html_contents){0};
	text_init(&contents->words, WORDS_MAX_BYTES);
}

void
html_contents_release(struct html_contents *contents)
{
	text_release(&contents->words);
	free(contents->headings);
}

void
html_contents_add(struct html_contents *contents, int level, const char *heading)
{
	if (contents->count == contents->room) {
		size_t room = contents->room ? contents->room * 2 : 32;
		struct html_heading *headings =
		    reallocarray(contents->headings, room, sizeof *headings);
		if (!headings) {
			contents->failed = true;
			return;
		}
		contents->headings = headings;
		contents->room = room;
	}
	contents->headings[contents->count++] =
	    (struct html_heading){level, contents->words.length};
	text_add(&contents->words, heading, strlen(heading) + 1);
	contents->failed |= contents->words.failed;
}

static void
put_entry(const struct html_contents *contents, size_t i, FILE *out)
{
	fprintf(out, "<li><a href=\"#s%zu\">", i + 1);
	html_put_escaped(out, contents->words.bytes + contents->headings[i].at);
	fputs("</a>", out);
}

/* The highest level that has more than one heading: those above it are titles. */
static int
highest_level(const struct html_contents *contents)
{
	size_t top = 0;

	for (size_t i = 0; i < contents->count; i++)
		top += contents->headings[i].level == 1;
	return top > 1 ? 1 : 2;
}

void
html_contents_put(const struct html_contents *contents, FILE *out)
{
	const int level = highest_level(contents);
	bool begun = false, below = false;
	size_t count = 0;

	for (size_t i = 0; i < contents->count; i++)
		count += contents->headings[i].level == level ||
		         contents->headings[i].level == level + 1;
	if (count < CONTENTS_LEAST)
		return;
	fputs("<nav aria-labelledby=\"contents\"><p id=\"contents\">On this page</p>\n"
	      "<ul>\n",
	    out);
	for (size_t i = 0; i < contents->count; i++) {
		int under = contents->headings[i].level - level;
		if (under != 0 && (under != 1 || !begun))
			continue;
		if (under == 0 && below)
			fputs("</li></ul>", out);
		if (under == 1 && !below)
			fputs("\n<ul>\n", out);
		else if (begun)
			fputs("</li>\n", out);
		begun = true;
		below = under == 1;
		put_entry(contents, i, out);
	}
	fputs(below ? "</li></ul></li>\n</ul></nav>\n" : "</li>\n</ul></nav>\n", out);
}
