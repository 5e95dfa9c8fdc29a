/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/marks.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/picture/palette.h"
#include "daemon/base/text.h"

enum { ROWS_MOST = 3, NAMED_MOST = 12, LEGEND_MOST = 8, SHORTEST = 18 };
#define GAP 6.0 /* between two labels */
#define LEGEND_WIDTH (SHEET_WIDTH - 2 * SHEET_EDGE)
#define LEGEND_LEAD 22.0 /* from a number to its words */
#define LEGEND_GAP 12.0  /* behind them */
#define LEAD 3.0         /* from a mark's line to its words */
static const struct canvas_letters change_letters = {
    .size = LETTERING_SMALL, .rgb = PALETTE_INK};
static const struct canvas_letters note_letters = {
    .size = LETTERING_SMALL, .rgb = PALETTE_FAINT};
static const struct canvas_letters number_letters = {
    .size = LETTERING_SMALL, .rgb = PALETTE_INK, .bold = true};

static const struct canvas_letters *
letters_of(const struct run_mark *mark)
{
	return mark->strong ? &change_letters : &note_letters;
}

/* --- words above ------------------------------------------------------------------- */

/* From right to left, so that the line of an earlier mark passes before the words of the
 * later ones.  The row with room for all of its words, else the one with the most. */
static bool
put_words(const struct run_mark *mark, struct mark_label *label, double *taken)
{
	const struct canvas_letters *letters = letters_of(mark);
	double wanted = canvas_text_width(letters, mark->label), room = 0;

	label->left = label->x + LEAD;
	label->row = 0;
	for (int row = 0; row < ROWS_MOST && room < wanted; row++)
		if (taken[row] - label->left > room) {
			room = taken[row] - label->left;
			label->row = row;
		}
	if (room < wanted && room < SHORTEST * letters->size * 0.56)
		return false;
	lettering_fit(letters, mark->label, room, label->words);
	label->right = label->left + canvas_text_width(letters, label->words);
	/* its line goes through the rows below */
	for (int row = 0; row <= label->row; row++)
		taken[row] = fmin(taken[row], label->x - GAP);
	return true;
}

static bool
lay_words(struct marks *marks)
{
	double taken[ROWS_MOST] = {0};

	if (marks->count > NAMED_MOST)
		return false;
	for (int row = 0; row < ROWS_MOST; row++)
		taken[row] = SHEET_WIDTH - SHEET_EDGE;
	marks->rows = 0;
	for (size_t i = marks->count; i-- > 0;) {
		struct mark_label *label = &marks->labels[i];
		label->place = MARK_ABOVE;
		if (!put_words(&marks->list[i], label, taken))
			return false;
		if (label->row >= marks->rows)
			marks->rows = label->row + 1;
	}
	return true;
}

/* --- numbers above ------------------------------------------------------------------ */

/* Over its line, but not left of `least`. */
static void
name_numbers(struct mark_label *label, size_t first, size_t last, double least)
{
	if (first == last)
		snprintf(label->words, sizeof label->words, "%zu", first + 1);
	else
		snprintf(label->words, sizeof label->words, "%zu\xe2\x80\x93%zu",
		    first + 1, last + 1);
	double width = canvas_text_width(&number_letters, label->words);
	label->left = fmax(label->x - width / 2, least);
	label->right = label->left + width;
}

/* One row; who has no room joins the one before. */
static void
lay_numbers(struct marks *marks)
{
	size_t first = 0;
	double least = SHEET_EDGE;

	marks->numbered = true;
	marks->rows = marks->count > 0;
	for (size_t i = 0; i < marks->count; i++) {
		struct mark_label *label = &marks->labels[i];
		label->row = 0;
		label->place = MARK_ABOVE;
		name_numbers(label, i, i, SHEET_EDGE);
		double taken = i > 0 ? marks->labels[first].right + GAP : SHEET_EDGE;
		if (label->left < taken && i > 0) {
			label->place = MARK_SWALLOWED;
			name_numbers(&marks->labels[first], first, i, least);
		} else {
			first = i;
			least = taken;
		}
	}
}

bool
marks_lay(struct marks *marks, const struct axes *axes, const struct run_mark *list,
    size_t count)
{
	*marks = (struct marks){.list = list, .count = count};
	if (count == 0)
		return true;
	marks->labels = calloc(count, sizeof *marks->labels);
	if (!marks->labels) {
		marks->count = 0;
		return false;
	}
	for (size_t i = 0; i < count; i++) {
		double at = fmin((double)list[i].at, axes->x.high);
		marks->labels[i].x = axes_point(axes, at, axes->y.low).x;
	}
	if (!lay_words(marks))
		lay_numbers(marks);
	return true;
}

void
marks_release(struct marks *marks)
{
	free(marks->labels);
	*marks = (struct marks){0};
}

double
marks_height(const struct marks *marks)
{
	return marks->rows * LETTERING_LINE + (marks->rows > 0 ? 2 : 0);
}

/* --- drawing ------------------------------------------------------------------------ */

static double
row_base(const struct canvas_box *plot, int row)
{
	return plot->top - 4 - row * LETTERING_LINE;
}

/* Changes through the whole plot; notes as a short stroke into it. */
void
marks_put_lines(
    struct canvas *canvas, const struct marks *marks, const struct canvas_box *plot)
{
	static const struct canvas_pen change = {PALETTE_MARK, 0.9, DASH_SOLID},
				       note = {PALETTE_NOTE, 0.9, DASH_DOTTED};

	for (size_t i = 0; i < marks->count; i++) {
		const struct mark_label *label = &marks->labels[i];
		double top = plot->top;
		if (!marks->numbered)
			top = row_base(plot, label->row) - LETTERING_SMALL * 0.75;
		double bottom = marks->list[i].strong ? plot->bottom : plot->top + 24;
		canvas_line(canvas, (struct canvas_point){label->x, top},
		    (struct canvas_point){label->x, bottom},
		    marks->list[i].strong ? &change : &note);
	}
}

void
marks_put_labels(
    struct canvas *canvas, const struct marks *marks, const struct canvas_box *plot)
{
	for (size_t i = 0; i < marks->count; i++) {
		const struct mark_label *label = &marks->labels[i];
		if (label->place == MARK_ABOVE)
			canvas_text(canvas,
			    (struct canvas_point){
				label->left, row_base(plot, label->row)},
			    marks->numbered ? &number_letters
					    : letters_of(&marks->list[i]),
			    label->words);
	}
}

static void
number_of(size_t i, char to[static 24])
{
	snprintf(to, 24, "%zu", i + 1);
}

/* So many columns as the widest allows. */
static size_t
legend_columns(const struct marks *marks, double width)
{
	double widest = 0;

	for (size_t i = 0; i < marks->count; i++)
		widest = fmax(widest, canvas_text_width(letters_of(&marks->list[i]),
					  marks->list[i].label));
	widest += LEGEND_LEAD + LEGEND_GAP;
	return widest > width / 2   ? 1
	       : widest > width / 3 ? 2
	       : widest > width / 4 ? 3
	                            : 4;
}

/* How many lines; what does not fit is counted in the last place. */
static size_t
legend_lines(const struct marks *marks, size_t columns)
{
	size_t lines = (marks->count + columns - 1) / columns;

	return lines < LEGEND_MOST ? lines : LEGEND_MOST;
}

static void
put_legend_entry(struct canvas *canvas, const struct marks *marks, size_t i,
    struct canvas_point at, double width)
{
	char number[24], words[LETTERING_ROOM];

	number_of(i, number);
	canvas_text(canvas, at, &number_letters, number);
	at.x += LEGEND_LEAD;
	lettering_fit(letters_of(&marks->list[i]), marks->list[i].label,
	    width - LEGEND_LEAD - LEGEND_GAP, words);
	canvas_text(canvas, at, letters_of(&marks->list[i]), words);
}

double
marks_legend_height(const struct marks *marks)
{
	if (!marks->numbered)
		return 0;
	size_t columns = legend_columns(marks, LEGEND_WIDTH);
	return (double)legend_lines(marks, columns) * LETTERING_LINE + 4;
}

void
marks_put_legend(struct canvas *canvas, const struct marks *marks, double top)
{
	if (!marks->numbered)
		return;
	size_t columns = legend_columns(marks, LEGEND_WIDTH);
	size_t places = legend_lines(marks, columns) * columns;
	double width = LEGEND_WIDTH / (double)columns;
	for (size_t i = 0; i < marks->count && i < places; i++) {
		size_t row = i / columns;
		struct canvas_point at = {SHEET_EDGE + (double)(i % columns) * width,
		    top + LETTERING_SMALL + (double)row * LETTERING_LINE};
		char words[40];
		if (i + 1 < places || marks->count <= places) {
			put_legend_entry(canvas, marks, i, at, width);
			continue;
		}
		snprintf(words, sizeof words, "and %zu more", marks->count - i);
		canvas_text(canvas, at, &note_letters, words);
	}
}

/* --- under the axis ------------------------------------------------------------------ */

/* The label's right edge, or `taken` when it would stand on what is there. */
static double
put_tick(struct canvas *canvas, const struct axes *axes, double at, const char *label,
    double taken)
{
	static const struct canvas_pen pen = {PALETTE_FRAME, 0.8, DASH_SOLID};
	const struct canvas_letters letters = {
	    .size = LETTERING_SMALL, .rgb = PALETTE_FAINT, .anchor = ANCHOR_MIDDLE};
	struct canvas_point foot = axes_point(axes, at, axes->y.low);
	double half = canvas_text_width(&letters, label) / 2;
	double right = fmin(axes->box.right + 2, SHEET_WIDTH - SHEET_EDGE);
	double middle = fmax(fmin(foot.x, right - half), SHEET_EDGE + half);

	if (middle - half < taken + GAP)
		return taken;
	foot.y = axes->box.bottom;
	canvas_line(canvas, foot, (struct canvas_point){foot.x, foot.y + 3}, &pen);
	canvas_text(canvas, (struct canvas_point){middle, foot.y + 4 + LETTERING_SMALL},
	    &letters, label);
	return middle + half;
}

void
ticks_put(struct canvas *canvas, const struct axes *axes, const char *unit,
    const struct run_tick *ticks, size_t count)
{
	double taken = 0, last = 0, at;
	struct axis shots = axis_make(0, axes->x.high, 6, false);

	for (size_t i = 0; i < count; i++)
		if ((double)ticks[i].at < axes->x.high)
			taken = put_tick(canvas, axes, (double)ticks[i].at + 0.5,
			    ticks[i].label, taken);
	if (count > 0 || axes->x.high < 1)
		return;
	for (int i = 0; !isnan(at = axis_tick(&shots, i)); i++) {
		char label[LETTERING_NUMBER];
		double slot = fmax(round(at), 1);
		if (fabs(at - round(at)) > 1e-6 || slot <= last)
			continue;
		last = slot;
		snprintf(label, sizeof label, i == 0 ? "%s %.0f" : "%s%.0f",
		    i == 0 ? unit : "", slot);
		taken = put_tick(canvas, axes, slot - 0.5, label, taken);
	}
}
