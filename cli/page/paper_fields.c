/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Names and values on paper. */
#include <math.h>
#include <string.h>

#include "cli/page/paper_columns.h"
#include "cli/page/paper_table.h"

#define LABEL_LEAST 90.0
#define LABEL_MOST 190.0
#define FIRST_LINES 3 /* under a heading */
#define FIELD_LINE (PAPER_SIZE * PAPER_LEADING)

static double
value_left(const struct paper_field *field)
{
	return field->label + COLUMNS_GAP;
}

static int
value_lines(struct paper *paper, const struct paper_field *field)
{
	const struct canvas_letters letters = paper_letters(PAPER_SIZE, field->tone);

	return paper_lines(
	    paper, &letters, field->value, PAPER_WIDTH - value_left(field));
}

double
paper_field_height(struct paper *paper, const struct paper_field *field)
{
	const struct canvas_letters letters = paper_letters(PAPER_SIZE, TONE_FAINT);
	int lines = paper_lines(paper, &letters, field->name, field->label);
	int values = value_lines(paper, field);

	return FIELD_LINE * (lines > values ? lines : values);
}

/* What is left of the words. */
static const char *
put_part(struct paper *paper, const struct canvas_letters *letters, double x,
    const char *words, double width)
{
	size_t length = paper_line(paper, letters, words, width);

	if (length > 0)
		paper_put(
		    paper, letters, x, letters->size * PAPER_ASCENT, words, length);
	return words + length + strspn(words + length, " ");
}

/* The next line of both, the pen moves below. */
static void
put_line(struct paper *paper, struct paper_field *rest)
{
	const struct canvas_letters label = paper_letters(PAPER_SIZE, TONE_FAINT),
				    value = paper_letters(PAPER_SIZE, rest->tone);
	const double x = value_left(rest);

	rest->name = put_part(paper, &label, 0, rest->name, rest->label);
	rest->value = put_part(paper, &value, x, rest->value, PAPER_WIDTH - x);
	paper->y += FIELD_LINE;
}

void
paper_field_put(struct paper *paper, const struct paper_field *field)
{
	struct paper_field rest = *field;

	while (*rest.name || *rest.value)
		put_line(paper, &rest);
}

/* Two lines of a value at least stand together, else sheets part it. */
static void
put_field(struct paper *paper, struct paper_field rest)
{
	if (!paper_need(paper, (value_lines(paper, &rest) > 1 ? 2 : 1) * FIELD_LINE))
		return;
	while ((*rest.name || *rest.value) && paper_need(paper, FIELD_LINE))
		put_line(paper, &rest);
}

static struct paper_field
field_of(const struct grid *fields, size_t row, double label)
{
	return (struct paper_field){grid_words(fields, row, 0),
	    grid_words(fields, row, 1), fields->cells[2 * row + 1].tone, label};
}

static double
label_width(struct paper *paper, const struct grid *fields)
{
	const struct canvas_letters label = paper_letters(PAPER_SIZE, TONE_FAINT);
	double width = LABEL_LEAST;

	for (size_t row = 0; row < grid_rows(fields); row++)
		width = fmax(
		    width, paper_measure(paper, &label, grid_words(fields, row, 0)));
	return fmin(width, LABEL_MOST);
}

/* A few wait with their heading, else some of them at least stand under it. */
void
paper_fields_put(struct paper *paper, const struct grid *fields)
{
	double height = 0;

	if (!paper_begin(paper))
		return;
	const double label = label_width(paper, fields);
	for (size_t row = 0; row < grid_rows(fields); row++) {
		const struct paper_field field = field_of(fields, row, label);
		height += paper_field_height(paper, &field);
	}
	bool wait = paper_may_wait(paper, grid_rows(fields), height);
	if (!wait && !paper_need(paper, fmin(height, FIRST_LINES * FIELD_LINE)))
		return;
	for (size_t row = 0; row < grid_rows(fields); row++) {
		const struct paper_field field = field_of(fields, row, label);
		if (wait)
			paper_field_wait(paper, &field);
		else
			put_field(paper, field);
	}
}
