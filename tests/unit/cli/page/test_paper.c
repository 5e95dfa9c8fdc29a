/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/paper.h"

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "cli/page/paper_table.h"
#include "daemon/base/error.h"
#include "tests/unit/seed.h"

static struct paper paper;
static char *written;
static size_t length;
static FILE *out;

static void
begin(void)
{
	out = open_memstream(&written, &length);
	assert_non_null(out);
	paper_init(&paper, out);
	assert_true(paper_begin(&paper));
}

/* How many sheets there were. */
static int
end(void)
{
	int count = 0;

	assert_int_equal(paper_end(&paper), 0);
	fclose(out);
	for (const char *at = written;
	     (at = memmem(at, length - (size_t)(at - written), "/Type /Page %", 13));
	     at++)
		count++;
	free(written);
	written = NULL;
	return count;
}

static void
an_empty_paper_has_a_sheet(void **state)
{
	(void)state;
	begin();
	assert_int_equal(end(), 1);
}

static void
lines_keep_within_their_width_and_lose_nothing(void **state)
{
	unsigned seed = seed_take(11);

	(void)state;
	begin();
	for (int i = 0; i < 300; i++) {
		const struct canvas_letters letters =
		    paper_letters(6 + i % 8, i % 2 ? TONE_STRONG : TONE_PLAIN);
		char words[120], copy[120];
		double width = 40 + i % 200;
		size_t used = 0, taken = 0;
		for (; used < sizeof words - 1; used++) {
			seed = seed * 1103515245u + 12345u;
			words[used] = (seed >> 16) % 6 == 0
			                  ? ' '
			                  : (char)('a' + (seed >> 20) % 26);
		}
		words[used] = '\0';
		while (words[taken]) {
			size_t line =
			    paper_line(&paper, &letters, words + taken, width);
			assert_true(line > 0);
			snprintf(copy, sizeof copy, "%.*s", (int)line, words + taken);
			assert_true(
			    paper_measure(&paper, &letters, copy) <= width + 0.1);
			taken += line;
			taken += strspn(words + taken, " ");
		}
		assert_int_equal(taken, used);
	}
	end();
}

static void
a_line_ends_at_a_blank_and_a_long_word_within(void **state)
{
	const struct canvas_letters letters = paper_letters(9, TONE_PLAIN);
	static const char words[] = "one two threeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeee";

	(void)state;
	begin();
	double width = paper_measure(&paper, &letters, "one two t");
	assert_int_equal(paper_line(&paper, &letters, words, width), strlen("one two"));
	size_t cut = paper_line(&paper, &letters, words + 8, width);
	assert_true(cut > 3 && cut < strlen(words + 8));
	/* a number and its unit stay together */
	width = paper_measure(&paper, &letters, "about 95 ");
	assert_int_equal(
	    paper_line(&paper, &letters, "about 95 % of", width), strlen("about"));
	/* no character is ever parted, and one is taken even where it does not fit */
	assert_int_equal(paper_line(&paper, &letters, "\xc3\xa4\xc3\xa4", 0.1), 2);
	assert_int_equal(paper_line(&paper, &letters, "", 100), 0);
	assert_int_equal(paper_lines(&paper, &letters, "one two", 1000), 1);
	end();
}

/* With blanks and without: each line costs what it holds, not all that follows. */
static void
words_of_any_length_are_put_whole(void **state)
{
	enum { LONG = 400000 };
	const struct canvas_letters letters = paper_letters(PAPER_SIZE, TONE_PLAIN);
	char *words = malloc(LONG + 1);

	(void)state;
	assert_non_null(words);
	begin();
	for (size_t blank = 0; blank <= 8; blank += 8) {
		size_t taken = 0, length_of_line;
		for (size_t i = 0; i < LONG; i++)
			words[i] = blank && i % blank == 7 ? ' ' : '1';
		words[LONG] = '\0';
		while ((length_of_line = paper_line(
			    &paper, &letters, words + taken, PAPER_WIDTH)) > 0) {
			assert_true(length_of_line < 400);
			taken += length_of_line;
			taken += strspn(words + taken, " ");
		}
		assert_int_equal(taken, LONG);
		assert_true(paper_measure(&paper, &letters, words) > PAPER_WIDTH);
	}
	free(words);
	assert_int_equal(end(), 1);
}

static void
what_does_not_fit_begins_a_sheet(void **state)
{
	(void)state;
	begin();
	assert_true(paper_need(&paper, 100));
	paper.y = PAPER_HEIGHT - 50;
	assert_true(paper_need(&paper, 50));
	assert_true(paper.y > 0);
	assert_true(paper_need(&paper, 51));
	assert_true(paper.y <= 0);
	assert_true(
	    paper_need(&paper, 10 * PAPER_HEIGHT)); /* there is no better place */
	assert_true(paper.y <= 0);
	assert_int_equal(end(), 2);
}

static void
a_heading_goes_along_with_what_it_stands_over(void **state)
{
	(void)state;
	begin();
	paper_need(&paper, 0);
	paper.y = PAPER_HEIGHT - 100;
	paper_heading(&paper, 2, "A heading");
	paper_sentence(&paper, 9, TONE_PLAIN, "And a sentence after it.");
	assert_true(paper.y > PAPER_HEIGHT - 101); /* they wait */
	assert_true(paper_need(&paper, 90));
	assert_true(paper.y > 25 && paper.y < 60); /* below both, on the next sheet */
	paper.y = PAPER_HEIGHT - 100;
	paper_heading(&paper, 2, "A heading");
	assert_true(paper_need(&paper, 30));
	assert_true(paper.y > PAPER_HEIGHT - 100); /* here there is room */
	assert_int_equal(end(), 2);
}

/* Fields of so many names with values. */
static void
put_fields(size_t count, const char *value)
{
	const struct cell name = cell_words("upper limit"), cell = cell_words(value);
	struct grid fields;

	grid_init(&fields);
	grid_start(&fields, 2);
	for (size_t i = 0; i < count; i++) {
		grid_add(&fields, &name);
		grid_add(&fields, &cell);
	}
	paper_fields_put(&paper, &fields);
	grid_release(&fields);
}

static void
fields_after_a_heading_go_along_with_it(void **state)
{
	(void)state;
	begin();
	paper_need(&paper, 0);
	paper.y = PAPER_HEIGHT - 200;
	paper_heading(&paper, 2, "A heading");
	put_fields(3, "375.0");
	paper_sentence(&paper, 9, TONE_PLAIN, "And a sentence after them.");
	assert_true(paper.y > PAPER_HEIGHT - 201); /* they wait */
	assert_true(paper_need(&paper, 190));
	assert_true(paper.y > 65 && paper.y < 100); /* below, on the next sheet */
	assert_int_equal(end(), 2);
}

static void
many_fields_or_long_ones_do_not_wait(void **state)
{
	char words[4000];

	(void)state;
	begin();
	paper_heading(&paper, 2, "A heading");
	put_fields(60, "375.0");
	assert_true(paper.y > 60 * 9);
	assert_int_equal(end(), 1);
	memset(words, 'x', sizeof words - 1);
	words[sizeof words - 1] = '\0';
	begin();
	paper_heading(&paper, 2, "A heading");
	put_fields(1, words);
	assert_true(paper.y > 100);
	put_fields(20, words);
	assert_true(end() > 5);
}

static void
what_waits_is_put_at_the_end(void **state)
{
	(void)state;
	begin();
	for (int i = 0; i < 200; i++)
		paper_heading(&paper, 1 + i % 6, "Nothing under it");
	assert_true(end() > 1);
}

static void
sentences_go_on_on_the_next_sheet(void **state)
{
	static char words[60000];

	(void)state;
	for (size_t i = 0; i < sizeof words - 1; i++)
		words[i] = i % 7 == 6 ? ' ' : 'x';
	begin();
	paper_sentence(&paper, 9, TONE_BAD, words);
	assert_true(end() > 5);
}

/* --- tables -------------------------------------------------------------------------- */

static const struct column columns[] = {
    {"a", "a name", 0}, {"b", "a number", 0}, {"c", "what it is", 0}};

static void
put_table(int rows, const char *words)
{
	struct table table;
	const struct cell cells[] = {
	    cell_words("name"), cell_number(1.5, 1), cell_words(words)};

	table_init(&table);
	table_start(&table, "A table", columns, 3);
	for (int i = 0; i < rows; i++)
		table_row(&table, cells);
	assert_true(table_end(&table));
	paper_table_put(&paper, &table);
	table_release(&table);
}

static void
a_small_table_is_not_parted(void **state)
{
	(void)state;
	begin();
	paper_need(&paper, 0);
	paper.y = PAPER_HEIGHT - 80;
	put_table(6, "words");
	assert_true(paper.y > 80 && paper.y < 200);
	assert_int_equal(end(), 2);
}

static void
a_long_table_begins_here_with_rows_under_its_head(void **state)
{
	(void)state;
	begin();
	paper_need(&paper, 0);
	paper.y = PAPER_HEIGHT - 120;
	put_table(100, "words");
	int sheets = end();
	assert_true(sheets >= 3);
	begin();
	paper_need(&paper, 0);
	paper.y = PAPER_HEIGHT - 30; /* no room for head and two rows */
	put_table(100, "words");
	assert_true(end() >= sheets);
}

static void
a_row_that_is_higher_than_a_sheet_goes_on(void **state)
{
	static char words[30000];

	(void)state;
	for (size_t i = 0; i < sizeof words - 1; i++)
		words[i] = i % 7 == 6 ? ' ' : 'x';
	begin();
	put_table(3, words);
	int sheets = end();
	assert_true(sheets > 3 && sheets < 100);
}

static void
as_many_columns_as_there_can_be_are_folded(void **state)
{
	struct table table;
	struct column many[WRITER_COLUMNS];
	struct cell cells[WRITER_COLUMNS];

	(void)state;
	for (int i = 0; i < WRITER_COLUMNS; i++) {
		many[i] = (struct column){"k", "a_title_that_is_long", i / 20};
		cells[i] =
		    i % 3 ? cell_number(1234567.891, 3)
			  : cell_words("some_words_without_any_blank_in_them_which_"
				       "are_long_and_longer_and_longer_still");
	}
	begin();
	table_init(&table);
	table_start(&table, NULL, many, WRITER_COLUMNS);
	table_row(&table, cells);
	table_across(&table, TONE_BAD, "a sentence");
	assert_true(table_end(&table));
	paper_table_put(&paper, &table);
	table_release(&table);
	assert_true(end() >= 1);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(an_empty_paper_has_a_sheet),
	    cmocka_unit_test(lines_keep_within_their_width_and_lose_nothing),
	    cmocka_unit_test(a_line_ends_at_a_blank_and_a_long_word_within),
	    cmocka_unit_test(words_of_any_length_are_put_whole),
	    cmocka_unit_test(what_does_not_fit_begins_a_sheet),
	    cmocka_unit_test(a_heading_goes_along_with_what_it_stands_over),
	    cmocka_unit_test(fields_after_a_heading_go_along_with_it),
	    cmocka_unit_test(many_fields_or_long_ones_do_not_wait),
	    cmocka_unit_test(what_waits_is_put_at_the_end),
	    cmocka_unit_test(sentences_go_on_on_the_next_sheet),
	    cmocka_unit_test(a_small_table_is_not_parted),
	    cmocka_unit_test(a_long_table_begins_here_with_rows_under_its_head),
	    cmocka_unit_test(a_row_that_is_higher_than_a_sheet_goes_on),
	    cmocka_unit_test(as_many_columns_as_there_can_be_are_folded),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
