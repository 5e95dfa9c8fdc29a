/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Words on paper: how wide they are, where lines end. */
#include "cli/page/paper.h"

#include <string.h>

#include "cli/page/cell.h"
#include "daemon/base/utf8.h"

/* Bytes: more than any line holds, whatever is in it. */
enum { LINE_MOST = 4096 };

struct canvas_letters
paper_letters(double size, enum page_tone tone)
{
	struct canvas_letters letters = {.size = size, .rgb = PAPER_INK};

	switch (tone) {
	case TONE_PLAIN:
		break;
	case TONE_STRONG:
		letters.bold = true;
		break;
	case TONE_GOOD:
		letters.rgb = 0x0b4f7d;
		break;
	case TONE_BAD:
		letters.rgb = 0x9a3000;
		letters.bold = true;
		break;
	case TONE_FAINT:
		letters.rgb = PAPER_FAINT;
		break;
	}
	return letters;
}

static const char *
copy_line(struct paper *paper, const char *words, size_t length)
{
	text_clear(&paper->line);
	text_add(&paper->line, words, length);
	return paper->line.bytes ? paper->line.bytes : "";
}

double
paper_measure(
    struct paper *paper, const struct canvas_letters *letters, const char *words)
{
	if (strnlen(words, LINE_MOST + 1) > LINE_MOST)
		words = copy_line(paper, words, LINE_MOST);
	return canvas_measure(paper->canvas, letters, words);
}

static bool
fits(struct paper *paper, const struct canvas_letters *letters, const char *words,
    size_t length, double width)
{
	return length <= LINE_MOST &&
	       paper_measure(paper, letters, copy_line(paper, words, length)) <=
	           width + 0.01;
}

/* Of a word that is too long: as many characters as fit, one at least. */
static size_t
cut_word(struct paper *paper, const struct canvas_letters *letters, const char *words,
    double width)
{
	const char *at = words;
	size_t length = 0;

	while (utf8_next(&at) != 0) {
		size_t longer = (size_t)(at - words);
		if (length > 0 && !fits(paper, letters, words, longer, width))
			break;
		length = longer;
	}
	return length;
}

/* The end of the next word after `at`, with the unit that is bound to it. */
static size_t
next_break(const char *words, size_t at)
{
	do {
		at += strspn(words + at, " ");
		at += strcspn(words + at, " ");
	} while (cell_binds(words, words + at));
	return at;
}

size_t
paper_line(struct paper *paper, const struct canvas_letters *letters, const char *words,
    double width)
{
	size_t all = strnlen(words, LINE_MOST + 1), length = 0, word;

	if (fits(paper, letters, words, all, width))
		return all;
	for (size_t at = 0; at < all; at = word) {
		word = next_break(words, at);
		if (!fits(paper, letters, words, word, width))
			break;
		length = word;
	}
	return length > 0 ? length : cut_word(paper, letters, words, width);
}

int
paper_lines(struct paper *paper, const struct canvas_letters *letters,
    const char *words, double width)
{
	size_t length;
	int count = 0;

	while ((length = paper_line(paper, letters, words, width)) > 0) {
		words += length;
		words += strspn(words, " ");
		count++;
	}
	return count;
}

void
paper_put(struct paper *paper, const struct canvas_letters *letters, double x,
    double down, const char *words, size_t length)
{
	const struct canvas_point corner = paper_corner(paper);

	canvas_text(paper->canvas, (struct canvas_point){corner.x + x, corner.y + down},
	    letters, copy_line(paper, words, length));
}

void
paper_rule(struct paper *paper, double x, double down, double width, uint32_t rgb)
{
	const struct canvas_pen pen = {rgb, 0.5, DASH_SOLID};
	struct canvas_point from = paper_corner(paper);

	from.x += x;
	from.y += down;
	canvas_line(
	    paper->canvas, from, (struct canvas_point){from.x + width, from.y}, &pen);
}
