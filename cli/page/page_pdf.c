/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * PDF: the page on A4 sheets, numbered, its title at their feet.  Text stays text.  Fields are
 * kept until their run ends, a table until its end, when the widths are known.
 */
#include "cli/page/writer.h"

#include <math.h>
#include <stdlib.h>

#include "cli/page/cell.h"
#include "cli/page/paper.h"
#include "cli/page/paper_table.h"
#include "cli/picture/picture.h"
#include "daemon/base/error.h"

#define CAPTION_SIZE 8.0
#define SHRINK_MOST 0.8
#define PICTURE_SPACE 7.0 /* above and below */

enum { WORDS_MAX_BYTES = 1 << 16 };

struct pdf {
	struct paper paper;
	struct grid fields; /* the run of them that is not yet put */
	struct table table;
	struct text words; /* for one value */
	int level;         /* of headings that are open */
	int depth;
	bool headed[WRITER_DEPTH];
};

static void
flush_fields(struct pdf *pdf)
{
	if (pdf->fields.count > 0 && !pdf->fields.failed) {
		paper_space(&pdf->paper, 4);
		paper_fields_put(&pdf->paper, &pdf->fields);
		paper_space(&pdf->paper, 4);
	}
	grid_start(&pdf->fields, 2);
}

static void
pdf_title(void *state, const char *title)
{
	struct pdf *pdf = state;

	pdf->level++;
	paper_heading(&pdf->paper, pdf->level, title);
}

static void
pdf_open(void *state, enum page_group group, const char *key, const char *heading)
{
	struct pdf *pdf = state;

	(void)group, (void)key;
	flush_fields(pdf);
	if (pdf->depth < WRITER_DEPTH)
		pdf->headed[pdf->depth] = heading;
	pdf->depth++;
	if (heading)
		pdf_title(pdf, heading);
}

static void
pdf_close(void *state)
{
	struct pdf *pdf = state;

	flush_fields(pdf);
	pdf->depth--;
	if (pdf->depth < WRITER_DEPTH && pdf->headed[pdf->depth])
		pdf->level--;
}

static void
put_sentence(struct pdf *pdf, double size, enum page_tone tone, const char *sentence)
{
	text_clear(&pdf->words);
	cell_add_plain(&pdf->words, sentence);
	if (pdf->words.bytes)
		paper_sentence(&pdf->paper, size, tone, pdf->words.bytes);
}

static void
pdf_note(void *state, const char *key, enum page_tone tone, const char *sentence)
{
	struct pdf *pdf = state;

	(void)key;
	flush_fields(pdf);
	paper_title(&pdf->paper, sentence);
	put_sentence(pdf, PAPER_SIZE, tone, sentence);
}

static void
pdf_field(void *state, const char *key, const char *label, const struct cell *cell)
{
	struct pdf *pdf = state;
	const struct cell name = cell_words(label);

	(void)key;
	if (!label)
		return;
	grid_add(&pdf->fields, &name);
	grid_add(&pdf->fields, cell);
}

static void
pdf_list(void *state, const char *key, const char *label, const struct cell *cells,
    size_t count)
{
	struct pdf *pdf = state;

	text_clear(&pdf->words);
	cell_add_list(&pdf->words, cells, count);
	const struct cell cell = cell_words(count > 0 ? pdf->words.bytes : NULL);
	pdf_field(state, key, label, &cell);
}

static void
pdf_table(void *state, const char *key, const char *heading,
    const struct column *columns, size_t count)
{
	struct pdf *pdf = state;

	(void)key;
	table_start(&pdf->table, heading, columns, count);
}

static void
pdf_row(void *state, const struct cell *cells)
{
	struct pdf *pdf = state;

	table_row(&pdf->table, cells);
}

static void
pdf_across(void *state, enum page_tone tone, const char *sentence)
{
	struct pdf *pdf = state;

	table_across(&pdf->table, tone, sentence);
}

static void
pdf_table_end(void *state)
{
	struct pdf *pdf = state;

	if (!table_end(&pdf->table))
		return;
	flush_fields(pdf);
	paper_table_put(&pdf->paper, &pdf->table);
}

/* As wide as the sheet at most, a little less where that saves half an empty sheet. */
static double
fitting_scale(struct pdf *pdf, struct canvas_point size, double below)
{
	double scale = fmin(
	    fmin(1, PAPER_WIDTH / size.x), (paper_most(&pdf->paper) - below) / size.y);
	double left = (paper_left(&pdf->paper) - below) / size.y;

	return left < scale && left > scale * SHRINK_MOST ? left : scale;
}

static void
pdf_picture(void *state, const struct picture *picture, const char *caption)
{
	struct pdf *pdf = state;
	struct paper *paper = &pdf->paper;
	const struct canvas_letters letters = paper_letters(CAPTION_SIZE, TONE_FAINT);
	double below = 0;

	flush_fields(pdf);
	if (!paper_begin(paper))
		return;
	paper_space(paper, PICTURE_SPACE);
	if (caption)
		below = paper_lines(paper, &letters, caption, PAPER_WIDTH) *
		        CAPTION_SIZE * PAPER_LEADING;
	const double scale = fitting_scale(pdf, picture->size, below);
	const double height = scale * picture->size.y;
	if (!paper_need(paper, fmin(height + below, PAPER_HEIGHT)))
		return;
	picture_put(picture, paper->canvas, paper_corner(paper), scale);
	paper->y += height;
	if (caption)
		put_sentence(pdf, CAPTION_SIZE, TONE_FAINT, caption);
	paper_space(paper, PICTURE_SPACE);
}

static int
pdf_end(void *state)
{
	struct pdf *pdf = state;

	flush_fields(pdf);
	bool failed = pdf->fields.failed || pdf->table.grid.failed || pdf->words.failed;
	if (paper_end(&pdf->paper) != 0)
		failed = true;
	grid_release(&pdf->fields);
	table_release(&pdf->table);
	text_release(&pdf->words);
	free(pdf);
	return failed ? ERROR_MEMORY : 0;
}

void *
page_pdf_new(FILE *out)
{
	struct pdf *pdf = calloc(1, sizeof *pdf);

	if (!pdf)
		return NULL;
	paper_init(&pdf->paper, out);
	grid_init(&pdf->fields);
	grid_start(&pdf->fields, 2);
	table_init(&pdf->table);
	text_init(&pdf->words, WORDS_MAX_BYTES);
	return pdf;
}

const struct writer page_pdf_writer = {
    .title = pdf_title,
    .open = pdf_open,
    .close = pdf_close,
    .note = pdf_note,
    .field = pdf_field,
    .table = pdf_table,
    .row = pdf_row,
    .across = pdf_across,
    .table_end = pdf_table_end,
    .list = pdf_list,
    .picture = pdf_picture,
    .end = pdf_end,
};
