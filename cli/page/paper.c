/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/paper.h"

#include <string.h>

#include "cli/picture/lettering.h"
#include "daemon/base/error.h"

#define A4_WIDTH 595.28 /* ISO 216: A4 */
#define A4_HEIGHT 841.89
#define MARGIN_LEFT 42.0
#define MARGIN_TOP 42.0
#define FOOT_BELOW 30.0 /* the base line of the foot, under the lower margin */
#define FOOT_SIZE 7.5
#define BAR_ROOM 8.0
#define ROUNDING 0.01
#define SENTENCE_AFTER 4.0
#define FIELDS_AFTER 4.0
#define WAITING_MOST 130.0 /* what waits is no higher when more joins */

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
	text_init(&paper->waiting_words, WORDS_MAX_BYTES);
}

void
paper_title(struct paper *paper, const char *title)
{
	if (!paper->title.bytes)
		text_puts(&paper->title, title);
}

static void
wait_for(struct paper *paper, int level, enum page_tone tone, const char *words)
{
	paper->waiting[paper->waiting_count++] =
	    (struct paper_waiting){level, tone, paper->waiting_words.length, 0};
	text_add(&paper->waiting_words, words, strlen(words) + 1);
}

void
paper_heading(struct paper *paper, int level, const char *heading)
{
	paper_title(paper, heading);
	if (paper->waiting_count == PAPER_WAITING && !paper_need(paper, 0))
		return;
	if (paper->waiting_count == 0)
		paper_space(paper, traits_of(level)->before);
	wait_for(paper, level, TONE_STRONG, heading);
}

void
paper_space(struct paper *paper, double points)
{
	if (points > paper->gap)
		paper->gap = points;
}

struct canvas_point
paper_corner(const struct paper *paper)
{
	return (struct canvas_point){MARGIN_LEFT, MARGIN_TOP + paper->y};
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
	char title[LETTERING_ROOM], number[60];

	canvas_line(canvas, (struct canvas_point){left, y - 12},
	    (struct canvas_point){right, y - 12}, &pen);
	lettering_fit(&letters, what, PAPER_WIDTH - 70, title);
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
	    (struct canvas_point){A4_WIDTH, A4_HEIGHT}, paper->title.bytes, NULL);
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

static const char *
words_of(const struct paper *paper, const struct paper_waiting *waiting)
{
	return paper->waiting_words.bytes + waiting->at;
}

static struct canvas_letters
letters_of(const struct paper_waiting *waiting)
{
	return paper_letters(
	    waiting->level > 0 ? traits_of(waiting->level)->size : PAPER_SIZE,
	    waiting->tone);
}

static struct paper_field
field_of(const struct paper *paper, const struct paper_waiting *waiting)
{
	const char *name = words_of(paper, waiting);

	return (struct paper_field){
	    name, name + strlen(name) + 1, waiting->tone, waiting->label};
}

/* Of fields the last has room below. */
static double
field_after(const struct paper *paper, int i)
{
	bool last = i + 1 == paper->waiting_count || paper->waiting[i + 1].label <= 0;

	return last ? FIELDS_AFTER : 0;
}

static double
one_height(struct paper *paper, int i)
{
	const struct paper_waiting *waiting = &paper->waiting[i];
	const struct canvas_letters letters = letters_of(waiting);
	const double indent = waiting->tone == TONE_BAD ? BAR_ROOM : 0;
	double around = SENTENCE_AFTER;

	if (waiting->label > 0) {
		const struct paper_field field = field_of(paper, waiting);
		return paper_field_height(paper, &field) + field_after(paper, i);
	}
	if (waiting->level > 0)
		around = traits_of(waiting->level)->after +
		         (i > 0 ? traits_of(waiting->level)->before : 0);
	return around + PAPER_LEADING * letters.size *
	                    paper_lines(paper, &letters, words_of(paper, waiting),
				PAPER_WIDTH - (waiting->level > 0 ? 0 : indent));
}

static double
waiting_height(struct paper *paper)
{
	double height = 0;

	for (int i = 0; i < paper->waiting_count; i++)
		height += one_height(paper, i);
	return height;
}

double
paper_most(struct paper *paper)
{
	return PAPER_HEIGHT - waiting_height(paper);
}

double
paper_left(struct paper *paper)
{
	return PAPER_HEIGHT - paper->y - paper->gap - waiting_height(paper);
}

static void
put_bar(struct paper *paper, const struct canvas_letters *letters)
{
	const struct canvas_pen pen = {letters->rgb, 2, DASH_SOLID};
	struct canvas_point top = paper_corner(paper);

	top.x += 2;
	canvas_line(paper->canvas, top,
	    (struct canvas_point){top.x, top.y + letters->size * PAPER_LEADING}, &pen);
}

/* Whether no more lines may stand here: the last of all takes the one before it along. */
static bool
is_sheet_end(struct paper *paper, const struct canvas_letters *letters, double indent,
    const char *words)
{
	const double line = letters->size * PAPER_LEADING;
	const double room = PAPER_HEIGHT - paper->y;

	return room < line || (room < 2 * line && paper_lines(paper, letters, words,
						      PAPER_WIDTH - indent) == 2);
}

/* Line by line, on the next sheet where this one ends; a bar before what is bad. */
static void
put_lines(struct paper *paper, const struct canvas_letters *letters, bool bar,
    const char *words)
{
	const double indent = bar ? BAR_ROOM : 0, line = letters->size * PAPER_LEADING;
	size_t length;

	while ((length = paper_line(paper, letters, words, PAPER_WIDTH - indent)) > 0) {
		if (paper->y > 0 && is_sheet_end(paper, letters, indent, words))
			paper_turn(paper);
		if (bar)
			put_bar(paper, letters);
		paper_put(paper, letters, indent, letters->size * PAPER_ASCENT, words,
		    length);
		paper->y += line;
		words += length;
		words += strspn(words, " ");
	}
}

static void
put_heading(struct paper *paper, const struct paper_waiting *waiting, bool first)
{
	const struct heading_traits *traits = traits_of(waiting->level);
	const struct canvas_letters letters = letters_of(waiting);
	const char *heading = words_of(paper, waiting);

	paper->y += first ? 0 : traits->before;
	canvas_mark(paper->canvas, waiting->level - 1, paper_corner(paper).y, heading);
	put_lines(paper, &letters, false, heading);
	if (traits->ruled)
		paper_rule(paper, 0, 0, PAPER_WIDTH, PAPER_RULE);
	paper->y += traits->after;
}

static void
put_waiting(struct paper *paper)
{
	for (int i = 0; i < paper->waiting_count; i++) {
		const struct paper_waiting *waiting = &paper->waiting[i];
		const struct canvas_letters letters = letters_of(waiting);
		if (waiting->level > 0) {
			put_heading(paper, waiting, i == 0);
			continue;
		}
		if (waiting->label > 0) {
			const struct paper_field field = field_of(paper, waiting);
			paper_field_put(paper, &field);
			paper->y += field_after(paper, i);
			continue;
		}
		put_lines(paper, &letters, waiting->tone == TONE_BAD,
		    words_of(paper, waiting));
		paper->y += SENTENCE_AFTER;
	}
	text_clear(&paper->waiting_words);
	paper->waiting_count = 0;
}

bool
paper_need(struct paper *paper, double height)
{
	if (!paper_begin(paper) || paper->waiting_words.failed)
		return false;
	if (paper->y > 0 && height > paper_left(paper) + ROUNDING)
		paper_turn(paper);
	paper->y += paper->y > 0 ? paper->gap : 0;
	paper->gap = 0;
	put_waiting(paper);
	return true;
}

bool
paper_may_wait(struct paper *paper, size_t count, double height)
{
	return paper->waiting_count > 0 && count <= PAPER_WAITING &&
	       (size_t)paper->waiting_count + count <= PAPER_WAITING &&
	       paper_begin(paper) && waiting_height(paper) + height < WAITING_MOST;
}

void
paper_field_wait(struct paper *paper, const struct paper_field *field)
{
	wait_for(paper, 0, field->tone, field->name);
	text_add(&paper->waiting_words, field->value, strlen(field->value) + 1);
	paper->waiting[paper->waiting_count - 1].label = field->label;
}

void
paper_sentence(struct paper *paper, double size, enum page_tone tone, const char *words)
{
	const struct canvas_letters letters = paper_letters(size, tone);

	if (paper_may_wait(paper, 1, 0)) {
		wait_for(paper, 0, tone, words);
		return;
	}
	if (!paper_need(paper, 2 * size * PAPER_LEADING))
		return;
	put_lines(paper, &letters, tone == TONE_BAD, words);
	paper_space(paper, SENTENCE_AFTER);
}

int
paper_end(struct paper *paper)
{
	bool failed = !paper_need(paper, 0) || paper->failed || paper->title.failed ||
	              paper->line.failed || paper->waiting_words.failed;

	if (paper->canvas && canvas_end(paper->canvas) != 0)
		failed = true;
	text_release(&paper->title);
	text_release(&paper->line);
	text_release(&paper->waiting_words);
	return failed ? ERROR_MEMORY : 0;
}
