/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Pages and pictures with names made up in them, in every format.  Text steers no terminal;
 * JSON is taken by jansson, HTML and SVG by expat, with the elements and attributes that we
 * write and no other; CSV has as many cells in each row, none of them a formula; PDF and PNG
 * are whole.
 *
 * Input: how wide a terminal is, and whether PDF and PNG are made (1 of 16); parts of a page.
 */
#include "tests/fuzz/readers.h"

#include <math.h>

#include "cli/page/page.h"
#include "cli/picture/run_picture.h"
#include "cli/picture/trend_picture.h"

enum { PARTS = 16, COLUMNS = 4, MARKS = 3, POINTS = 60, DEPTH = 4 };

/* --- a page ---------------------------------------------------------------------------- */

struct drawn {
	char heading[WORDS_MOST], axis[WORDS_MOST], said[WORDS_MOST],
	    marks[MARKS][WORDS_MOST], title[WORDS_MOST], description[WORDS_MOST];
	struct run_mark list[MARKS];
	struct run_tick ticks[MARKS];
	double values[POINTS];
	struct trend_point points[POINTS];
	size_t count;
};

static double
input_value(struct input *input)
{
	int16_t value = (int16_t)input_u16(input);

	return value == INT16_MIN ? (double)NAN : value / 10.0;
}

static void
read_drawn(struct drawn *drawn, struct input *input)
{
	drawn->count = input_u8(input) % POINTS;
	for (size_t i = 0; i < drawn->count; i++) {
		double value = input_value(input);

		drawn->values[i] = value;
		drawn->points[i] = (struct trend_point){
		    value, value - 1, value + 1, i % 2 == 0, isnan(value)};
	}
	input_words(input, drawn->heading);
	input_words(input, drawn->axis);
	input_words(input, drawn->said);
	input_words(input, drawn->title);
	input_words(input, drawn->description);
	for (size_t i = 0; i < MARKS; i++) {
		size_t at = drawn->count * i / MARKS;

		input_words(input, drawn->marks[i]);
		drawn->list[i] = (struct run_mark){at, drawn->marks[i], i == 0};
		drawn->ticks[i] = (struct run_tick){at, drawn->marks[MARKS - 1 - i]};
	}
}

static void
put_run(struct page *page, const struct drawn *drawn, const char *name)
{
	const struct run_picture run = {
	    .heading = drawn->heading,
	    .y_label = drawn->axis,
	    .verdict = drawn->said,
	    .count = drawn->count,
	    .values = drawn->values,
	    .lower = -100,
	    .upper = 100,
	    .target = NAN,
	    .control_low = NAN,
	    .centre = NAN,
	    .control_high = NAN,
	    .marks = drawn->list,
	    .mark_count = drawn->count > 0 ? MARKS : 0,
	    .ticks = drawn->ticks,
	    .tick_count = drawn->count > 0 ? MARKS : 0,
	};
	const struct picture picture =
	    run_picture_make(&run, name, drawn->title, drawn->description);

	page_picture(page, &picture, drawn->said);
}

static void
put_trend(struct page *page, const struct drawn *drawn, const char *name)
{
	const struct trend_picture trend = {
	    .heading = drawn->heading,
	    .y_label = drawn->axis,
	    .points = drawn->points,
	    .count = drawn->count,
	    .required = 1.33,
	    .lower = NAN,
	    .upper = NAN,
	    .marks = drawn->list,
	    .mark_count = drawn->count > 0 ? MARKS : 0,
	    .ticks = drawn->ticks,
	    .tick_count = drawn->count > 0 ? MARKS : 0,
	};
	const struct picture picture =
	    trend_picture_make(&trend, name, drawn->title, drawn->description);

	page_picture(page, &picture, drawn->said);
}

static void
put_picture(struct page *page, struct input *input, unsigned part)
{
	static struct drawn drawn;
	bool trend = input_u8(input) & 1;
	char name[16];

	read_drawn(&drawn, input);
	snprintf(name, sizeof name, "p%u", part);
	if (drawn.count == 0)
		return;
	if (trend)
		put_trend(page, &drawn, name);
	else
		put_run(page, &drawn, name);
}

static struct cell
input_cell(struct input *input, char words[static WORDS_MOST])
{
	uint8_t kind = input_u8(input);
	struct cell cell;

	input_words(input, words);
	switch (kind % 6) {
	case 0:
		return cell_absent(words);
	case 1:
		cell = cell_number(input_double(input), kind % 10);
		break;
	case 2:
		cell = cell_count(input_i64(input));
		break;
	case 3:
		cell = cell_time((struct wall){input_i64(input) >> 1});
		break;
	default:
		cell = cell_words(words);
	}
	if (kind & 0x80)
		cell.instead = words;
	cell.tone = (enum page_tone)(kind / 6 % 5);
	return cell;
}

static void
put_table(struct page *page, struct input *input)
{
	char heading[WORDS_MOST], title[COLUMNS][WORDS_MOST],
	    words[COLUMNS][WORDS_MOST];
	struct column columns[COLUMNS];
	struct cell cells[COLUMNS];

	input_words(input, heading);
	for (int i = 0; i < COLUMNS; i++)
		columns[i] = (struct column){
		    &"abcd"[i], input_words(input, title[i]), i == COLUMNS - 1};
	page_table(page, "t", heading, columns, COLUMNS);
	for (int row = input_u8(input) % 4; row > 0; row--) {
		for (int i = 0; i < COLUMNS; i++)
			cells[i] = input_cell(input, words[i]);
		page_row(page, cells);
		if (row == 2)
			page_across(page, TONE_FAINT, words[0]);
	}
	page_table_end(page);
}

/* One part of the page; how deep it is in groups then. */
static int
put_part(struct page *page, struct input *input, unsigned part, int depth)
{
	char a[WORDS_MOST], b[WORDS_MOST];
	struct cell cells[2];

	switch (input_u8(input) % 7) {
	case 0:
		if (depth < DEPTH)
			page_open(page, GROUP_OBJECT, "g", input_words(input, a));
		return depth < DEPTH ? depth + 1 : depth;
	case 1:
		if (depth > 0)
			page_close(page);
		return depth > 0 ? depth - 1 : depth;
	case 2:
		page_note(
		    page, "n", (enum page_tone)(part % 5), "%s", input_words(input, a));
		return depth;
	case 3:
		page_field(page, "f", input_words(input, a), input_cell(input, b));
		return depth;
	case 4:
		cells[0] = input_cell(input, a);
		cells[1] = input_cell(input, b);
		page_list(page, "l", "list", cells, 2);
		return depth;
	case 5:
		put_table(page, input);
		return depth;
	default:
		put_picture(page, input, part);
		return depth;
	}
}

static void
put_page(struct page *page, struct input input)
{
	char title[WORDS_MOST];
	int depth = 0;

	page_title(page, input_words(&input, title));
	for (unsigned part = 0; part < PARTS && input.left > 0; part++)
		depth = put_part(page, &input, part, depth);
	while (depth-- > 0)
		page_close(page);
}

static const char csv_table[] = "t";

/* --- the formats ------------------------------------------------------------------------ */

static void
check(enum page_format format, char *bytes, size_t length)
{
	switch (format) {
	case PAGE_TEXT:
		length = take_colours(bytes, length);
		MUST(is_text(bytes, length, "\n"));
		return;
	case PAGE_JSON:
		check_json(bytes, length);
		return;
	case PAGE_CSV:
		check_csv(bytes, length, COLUMNS);
		return;
	case PAGE_HTML:
		check_markup(bytes, length);
		return;
	case PAGE_SVG:
		if (length > 0)
			check_markup(bytes, length);
		return;
	case PAGE_PDF:
		MUST(length > 8 && memcmp(bytes, "%PDF-", 5) == 0);
		MUST(memcmp(bytes + length - 6, "%%EOF\n", 6) == 0);
		return;
	case PAGE_PNG:
		MUST(length == 0 || memcmp(bytes, "\x89PNG\r\n\x1a\n", 8) == 0);
		MUST(length == 0 || memcmp(bytes + length - 8, "IEND", 4) == 0);
		return;
	}
}

static void
write_page(enum page_format format, int width, const struct input *input)
{
	char *bytes = NULL;
	size_t length = 0;
	FILE *out = open_memstream(&bytes, &length);

	MUST(out != NULL);
	struct page *page = page_new(out, format, true, csv_table);

	MUST(page != NULL);
	page_set_width(page, width);
	put_page(page, *input);
	MUST(page_end(page) == 0);
	MUST(fclose(out) == 0);
	check(format, bytes, length);
	free(bytes);
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	struct input input = {bytes, length};
	uint8_t which = input_u8(&input);
	int width = 40 + which;

	write_page(PAGE_TEXT, width, &input);
	write_page(PAGE_JSON, width, &input);
	write_page(PAGE_CSV, width, &input);
	write_page(PAGE_HTML, width, &input);
	write_page(PAGE_SVG, width, &input);
	if (which % 16 == 1) {
		write_page(PAGE_PDF, width, &input);
		write_page(PAGE_PNG, width, &input);
	}
	return 0;
}
