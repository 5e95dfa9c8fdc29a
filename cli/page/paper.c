/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/paper.h"

#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/utf8.h"

#define SHEET_WIDTH 595.28 /* ISO 216: A4 */
#define SHEET_HEIGHT 841.89
#define MARGIN_LEFT 42.0
#define MARGIN_TOP 42.0
#define FOOT_BELOW 30.0 /* the base line of the foot, under the lower margin */
#define FOOT_SIZE 7.5
#define BAR_ROOM 8.0

enum { TITLE_MAX_BYTES = 4096, WORDS_MAX_BYTES = 1 << 20 };

struct heading_traits {
	double size, before, after;
	bool ruled;
};

static const struct heading_traits *
traits_of(int level)
{
	static const struct heading_traits traits[] = {
	    {15, 26, 6, false},
	    {11.5, 18, 5, true},
	    {10, 13, 4, false},
	    {9, 10, 3, false},
	};
	const int lowest = sizeof traits / sizeof traits[0];

	return &traits[(level < lowest ? level : lowest) - 1];
}

void
paper_init(struct paper *paper, FILE *out)
{
	*paper = (struct paper){.out = out};
	text_init(&paper->title, TITLE_MAX_BYTES);
	text_init(&paper->line, WORDS_MAX_BYTES);
	text_init(&paper->waiting, WORDS_MAX_BYTES);
}

void
paper_title(struct paper *paper, const char *title)
{
	if (!paper->title.bytes)
		text_puts(&paper->title, title);
}

void
paper_heading(struct paper *paper, int level, const char *heading)
{
	if (paper->waiting_count == PAPER_WAITING && !paper_need(paper, 0))
		return;
	paper_title(paper, heading);
	paper->level[paper->waiting_count++] = level;
	text_add(&paper->waiting, heading, strlen(heading) + 1);
}

void
paper_space(struct paper *paper, double points)
{
	if (points > paper->gap)
		paper->gap = points;
}

double
paper_left(const struct paper *paper)
{
	return PAPER_HEIGHT - paper->y;
}

struct canvas_point
paper_corner(const struct paper *paper)
{
	return (struct canvas_point){MARGIN_LEFT, MARGIN_TOP + paper->y};
}

/* --- words ------------------------------------------------------------------------ */

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
	return canvas_measure(paper->canvas, letters, words);
}

static bool
fits(struct paper *paper, const struct canvas_letters *letters, const char *words,
    size_t length, double width)
{
	return paper_measure(paper, letters, copy_line(paper, words, length)) <=
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

size_t
paper_line(struct paper *paper, const struct canvas_letters *letters, const char *words,
    double width)
{
	size_t all = strlen(words), length = 0, word;

	if (fits(paper, letters, words, all, width))
		return all;
	for (size_t at = 0; at < all; at = word) {
		word = at + strspn(words + at, " ");
		word += strcspn(words + word, " ");
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
	canvas_text(paper->canvas,
	    (struct canvas_point){MARGIN_LEFT + x, MARGIN_TOP + paper->y + down},
	    letters, copy_line(paper, words, length));
}

void
paper_rule(struct paper *paper, double x, double down, double width, uint32_t rgb)
{
	const struct canvas_pen pen = {rgb, 0.5, DASH_SOLID};
	double y = MARGIN_TOP + paper->y + down;

	canvas_line(paper->canvas, (struct canvas_point){MARGIN_LEFT + x, y},
	    (struct canvas_point){MARGIN_LEFT + x + width, y}, &pen);
}

/* --- sheets ----------------------------------------------------------------------- */

/* The title, cut to its room, and which sheet it is. */
static void
put_foot(struct canvas *canvas, const void *what, size_t sheet, size_t count)
{
	const struct canvas_pen pen = {PAPER_RULE, 0.5, DASH_SOLID};
	const double left = MARGIN_LEFT, right = MARGIN_LEFT + PAPER_WIDTH;
	const double y = MARGIN_TOP + PAPER_HEIGHT + FOOT_BELOW;
	struct canvas_letters letters = {.size = FOOT_SIZE, .rgb = PAPER_FAINT};
	char title[200], number[60];

	canvas_line(canvas, (struct canvas_point){left, y - 12},
	    (struct canvas_point){right, y - 12}, &pen);
	for (size_t room = sizeof title; text_copy(title, room, what),
		    room > 1 &&
			canvas_measure(canvas, &letters, title) > PAPER_WIDTH - 70;)
		room = strlen(title); /* one character less */
	canvas_text(canvas, (struct canvas_point){left, y}, &letters, title);
	letters.anchor = ANCHOR_END;
	snprintf(number, sizeof number, "%zu of %zu", sheet, count);
	canvas_text(canvas, (struct canvas_point){right, y}, &letters, number);
}

bool
paper_begin(struct paper *paper)
{
	if (paper->canvas || paper->failed)
		return paper->canvas;
	paper->canvas = canvas_new(paper->out, CANVAS_PDF,
	    (struct canvas_point){SHEET_WIDTH, SHEET_HEIGHT}, paper->title.bytes, NULL);
	if (!paper->canvas) {
		paper->failed = true;
		return false;
	}
	if (paper->title.bytes)
		canvas_set_foot(paper->canvas, put_foot, paper->title.bytes);
	else
		canvas_set_foot(paper->canvas, put_foot, "");
	return true;
}

void
paper_turn(struct paper *paper)
{
	canvas_next_sheet(paper->canvas);
	paper->y = 0;
	paper->gap = 0;
}

static double
heading_height(struct paper *paper, int level, const char *heading, bool first)
{
	const struct heading_traits *traits = traits_of(level);
	const struct canvas_letters letters = {.size = traits->size, .bold = true};

	return (first ? 0 : traits->before) + traits->after +
	       paper_lines(paper, &letters, heading, PAPER_WIDTH) * traits->size *
	           PAPER_LEADING;
}

static double
waiting_height(struct paper *paper)
{
	const char *heading = paper->waiting.bytes;
	double height = 0;

	for (int i = 0; i < paper->waiting_count; i++) {
		height += heading_height(paper, paper->level[i], heading, i == 0);
		heading += strlen(heading) + 1;
	}
	return height;
}

static void
put_lines(struct paper *paper, const struct canvas_letters *letters, double x,
    const char *words, double width)
{
	size_t length;

	while ((length = paper_line(paper, letters, words, width)) > 0) {
		paper_put(
		    paper, letters, x, letters->size * PAPER_ASCENT, words, length);
		paper->y += letters->size * PAPER_LEADING;
		words += length;
		words += strspn(words, " ");
	}
}

static void
put_heading(struct paper *paper, int level, const char *heading)
{
	const struct heading_traits *traits = traits_of(level);
	const struct canvas_letters letters = {
	    .size = traits->size, .rgb = PAPER_INK, .bold = true};

	canvas_mark(paper->canvas, level - 1, MARGIN_TOP + paper->y, heading);
	put_lines(paper, &letters, 0, heading, PAPER_WIDTH);
	if (traits->ruled)
		paper_rule(paper, 0, 0, PAPER_WIDTH, PAPER_RULE);
	paper->y += traits->after;
}

static void
put_waiting(struct paper *paper)
{
	const char *heading = paper->waiting.bytes;

	for (int i = 0; i < paper->waiting_count; i++) {
		if (i > 0)
			paper->y += traits_of(paper->level[i])->before;
		put_heading(paper, paper->level[i], heading);
		heading += strlen(heading) + 1;
	}
	text_clear(&paper->waiting);
	paper->waiting_count = 0;
}

bool
paper_need(struct paper *paper, double height)
{
	if (!paper_begin(paper) || paper->waiting.failed)
		return false;
	if (paper->waiting_count > 0)
		paper_space(paper, traits_of(paper->level[0])->before);
	double wanted = waiting_height(paper) + height;
	if (paper->y > 0 && paper->y + paper->gap + wanted > PAPER_HEIGHT)
		paper_turn(paper);
	paper->y += paper->y > 0 ? paper->gap : 0;
	paper->gap = 0;
	put_waiting(paper);
	return true;
}

void
paper_paragraph(struct paper *paper, const struct canvas_letters *letters,
    const char *words, bool bar)
{
	const double x = bar ? BAR_ROOM : 0, line = letters->size * PAPER_LEADING;
	const struct canvas_pen pen = {letters->rgb, 2, DASH_SOLID};
	size_t length;

	if (!paper_need(paper, 2 * line))
		return;
	while ((length = paper_line(paper, letters, words, PAPER_WIDTH - x)) > 0) {
		if (!paper_need(paper, line))
			return;
		if (bar)
			canvas_line(paper->canvas,
			    (struct canvas_point){
				MARGIN_LEFT + 2, MARGIN_TOP + paper->y},
			    (struct canvas_point){
				MARGIN_LEFT + 2, MARGIN_TOP + paper->y + line},
			    &pen);
		paper_put(
		    paper, letters, x, letters->size * PAPER_ASCENT, words, length);
		paper->y += line;
		words += length;
		words += strspn(words, " ");
	}
}

int
paper_end(struct paper *paper)
{
	bool failed = !paper_need(paper, 0) || paper->failed || paper->title.failed ||
	              paper->line.failed || paper->waiting.failed;

	if (paper->canvas && canvas_end(paper->canvas) != 0)
		failed = true;
	text_release(&paper->title);
	text_release(&paper->line);
	text_release(&paper->waiting);
	return failed ? ERROR_MEMORY : 0;
}
