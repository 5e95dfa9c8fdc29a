/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "cli/page/page.h"
#include "cli/picture/picture.h"
#include "tests/unit/cli/page/anything.h"
#include "tests/unit/cli/page/written.h"
#include "tests/unit/seed.h"

static struct page *
begin(void)
{
	return written_begin(PAGE_PDF);
}

static int
count_of(const char *words)
{
	int count = 0;

	for (const char *at = written;
	     (at = memmem(at, length - (size_t)(at - written), words, strlen(words)));
	     at++)
		count++;
	return count;
}

/* How many sheets there are. */
static int
end(struct page *page)
{
	written_end(page);
	assert_memory_equal(written, "%PDF-1.", 7);
	return count_of("/Type /Page %");
}

static int drawn;

static void
draw_words(struct canvas *canvas, const void *what)
{
	const struct canvas_letters letters = {.size = 9};

	canvas_clip(canvas, (struct canvas_box){0, 0, 100, 50});
	canvas_text(canvas, (struct canvas_point){1, 9}, &letters, what);
	canvas_unclip(canvas);
	drawn++;
}

static const struct picture wide = {.name = "one",
    .title = "Shots in order",
    .size = {600, 300},
    .draw = draw_words,
    .what = "words"};

static void
an_empty_page_is_one_sheet(void **state)
{
	(void)state;
	assert_int_equal(end(begin()), 1);
	assert_int_equal(count_of("/Title"), 0);
}

static void
the_title_or_else_the_first_heading_is_that_of_the_document(void **state)
{
	struct page *page = begin();

	(void)state;
	page_title(page, "Early shift");
	page_open(page, GROUP_OBJECT, "a", "First");
	page_close(page);
	assert_int_equal(end(page), 1);
	assert_int_equal(count_of("/Title (Early shift)"), 2); /* and in the outline */
	assert_int_equal(count_of("/Title (First)"), 1);
	page = begin();
	page_open(page, GROUP_OBJECT, "a", "First");
	page_note(page, NULL, TONE_PLAIN, "A sentence");
	page_close(page);
	end(page);
	assert_int_equal(count_of("/Title (First)"), 2);
	page = begin();
	page_note(page, NULL, TONE_PLAIN, "not capable");
	page_open(page, GROUP_OBJECT, "a", "First");
	page_close(page);
	end(page);
	assert_int_equal(count_of("/Title (not capable)"), 1);
}

static void
pictures_are_drawn_once_and_two_fit_on_a_sheet(void **state)
{
	struct page *page = begin();

	(void)state;
	drawn = 0;
	for (int i = 0; i < 5; i++) {
		page_open(page, GROUP_OBJECT, "a", "A characteristic");
		page_note(page, NULL, TONE_PLAIN, "A sentence");
		page_picture(page, &wide, "A caption");
		page_close(page);
	}
	assert_int_equal(end(page), 3);
	assert_int_equal(drawn, 5);
}

static void
three_low_pictures_fit_on_a_sheet(void **state)
{
	struct picture low = wide;
	struct page *page = begin();

	(void)state;
	low.size = (struct canvas_point){640, 272};
	page_open(page, GROUP_OBJECT, "a", "A section");
	page_note(page, NULL, TONE_PLAIN, "A sentence");
	for (int i = 0; i < 3; i++)
		page_picture(page, &low, NULL);
	page_close(page);
	assert_int_equal(end(page), 1);
}

static void
a_picture_larger_than_a_sheet_is_made_to_fit(void **state)
{
	struct picture tall = wide;
	struct page *page = begin();

	(void)state;
	tall.size = (struct canvas_point){100, 5000};
	page_note(page, NULL, TONE_PLAIN, "A sentence");
	page_picture(page, &tall, "A caption");
	page_note(page, NULL, TONE_PLAIN, "A sentence");
	assert_in_range(end(page), 2, 4);
}

static const struct column columns[] = {
    {"name", "name", 0}, {"value", "value", 0}, {"more", "more", 1}};

static void
put_rows(struct page *page, int rows)
{
	const struct cell cells[] = {
	    cell_words("name"), cell_number(1.5, 1), cell_count(7)};

	page_table(page, "rows", "Rows", columns, 3);
	for (int i = 0; i < rows; i++)
		page_row(page, cells);
	page_table_end(page);
}

static void
each_block_of_a_table_takes_its_own_room(void **state)
{
	struct page *page = begin();

	(void)state;
	put_rows(page, 30);
	int few = end(page);
	page = begin();
	put_rows(page, 120);
	int many = end(page);
	assert_int_equal(few, 2); /* 60 rows of some 15 points */
	assert_in_range(many, 5, 6);
	page = begin();
	put_rows(page, 0);
	assert_int_equal(end(page), 1);
	assert_int_equal(count_of("/Title (Rows)"), 0); /* not even its heading */
}

static void
the_same_page_gives_the_same_bytes(void **state)
{
	char *first;
	size_t first_length;

	(void)state;
	for (int i = 0; i < 2; i++) {
		struct page *page = begin();
		page_open(page, GROUP_OBJECT, "a", "First");
		put_rows(page, 50);
		page_picture(page, &wide, NULL);
		page_close(page);
		end(page);
		if (i > 0)
			break;
		first = written;
		first_length = length;
		written = NULL;
	}
	assert_int_equal(length, first_length);
	assert_memory_equal(written, first, length);
	free(first);
}

static void
no_words_break_a_sheet(void **state)
{
	unsigned seed = seed_take(7);

	(void)state;
	for (int i = 0; i < 200; i++) {
		struct page *page = begin();
		anything_put(page, &wide, &seed);
		assert_in_range(end(page), 1, 3);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(an_empty_page_is_one_sheet),
	    cmocka_unit_test(
		the_title_or_else_the_first_heading_is_that_of_the_document),
	    cmocka_unit_test(pictures_are_drawn_once_and_two_fit_on_a_sheet),
	    cmocka_unit_test(three_low_pictures_fit_on_a_sheet),
	    cmocka_unit_test(a_picture_larger_than_a_sheet_is_made_to_fit),
	    cmocka_unit_test(each_block_of_a_table_takes_its_own_room),
	    cmocka_unit_test(the_same_page_gives_the_same_bytes),
	    cmocka_unit_test(no_words_break_a_sheet),
	};
	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	free(written);
	return failed;
}
