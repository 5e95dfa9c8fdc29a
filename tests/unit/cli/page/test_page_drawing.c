/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/page.h"

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "cli/picture/picture.h"

static struct page *
begin(enum page_format format, FILE **out, char **bytes, size_t *length)
{
	*out = open_memstream(bytes, length);
	assert_non_null(*out);
	struct page *page = page_new(*out, format, false, "rows");
	assert_non_null(page);
	return page;
}

static void
end(struct page *page, FILE *out)
{
	assert_int_equal(page_end(page), 0);
	fclose(out);
}

static void
draw_name(struct canvas *canvas, const void *what)
{
	const struct canvas_letters letters = {.size = 9};

	canvas_text(canvas, (struct canvas_point){1, 9}, &letters, what);
}

static void
put_pictures(struct page *page)
{
	static const char *const names[] = {"first", "second", "third"};

	page_title(page, "A title");
	page_open(page, GROUP_OBJECT, "a", "Heading");
	for (int i = 0; i < 3; i++) {
		const struct picture picture = {.name = names[i],
		    .size = {60, 40},
		    .draw = draw_name,
		    .what = names[i]};
		page_picture(page, &picture, "Caption");
	}
	page_note(page, "note", TONE_PLAIN, "A note");
	page_close(page);
}

/* What is written of the page when `name` is chosen; the caller frees. */
static char *
choose(enum page_format format, const char *name, bool *found)
{
	char *bytes = NULL;
	size_t length;
	FILE *out;
	struct page *page = begin(format, &out, &bytes, &length);

	page_choose_picture(page, name);
	put_pictures(page);
	assert_int_equal(page_pictures(page, found), 3);
	assert_string_equal(page_picture_names(page), "'first', 'second', 'third'");
	end(page, out);
	return bytes;
}

static void
one_picture_is_the_chosen_one_alone(void **state)
{
	bool found;
	char *second = choose(PAGE_SVG, "second", &found);

	(void)state;
	assert_true(found);
	assert_memory_equal(second, "<?xml ", 6);
	assert_non_null(strstr(second, ">second</text>"));
	assert_null(strstr(second, "first"));
	assert_null(strstr(second, "Heading"));
	free(second);
	char *first = choose(PAGE_SVG, "first", &found);
	assert_true(found);
	assert_non_null(strstr(first, ">first</text>"));
	assert_null(strstr(strstr(first, "<svg") + 1, "<svg"));
	free(first);
	char *pixels = choose(PAGE_PNG, "third", &found);
	assert_true(found);
	assert_memory_equal(pixels, "\x89PNG", 4);
	free(pixels);
}

static void
a_picture_that_is_not_there_leaves_nothing(void **state)
{
	bool found;
	char *none = choose(PAGE_SVG, "fourth", &found);

	(void)state;
	assert_false(found);
	assert_string_equal(none, "");
	free(none);
	none = choose(PAGE_SVG, NULL, &found); /* of several */
	assert_false(found);
	assert_string_equal(none, "");
	free(none);
}

static void
pictures_are_no_affair_of_text_and_machines(void **state)
{
	static const struct {
		enum page_format format;
		bool draws;
	} rows[] = {{PAGE_TEXT, false}, {PAGE_JSON, false}, {PAGE_CSV, false},
	    {PAGE_HTML, true}, {PAGE_PDF, true}, {PAGE_SVG, true}, {PAGE_PNG, true}};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		char *bytes = NULL;
		size_t length;
		FILE *out;
		struct page *page = begin(rows[i].format, &out, &bytes, &length);
		assert_int_equal(page_draws(page), rows[i].draws);
		put_pictures(page);
		end(page, out);
		if (rows[i].format < PAGE_HTML) {
			assert_null(strstr(bytes, "first"));
			assert_null(strstr(bytes, "A title"));
		}
		free(bytes);
	}
}

static void
what_failed_to_be_made_is_told_at_the_end(void **state)
{
	char *bytes = NULL;
	size_t length;
	FILE *out;
	struct page *page = begin(PAGE_TEXT, &out, &bytes, &length);

	(void)state;
	page_fail(page);
	assert_int_not_equal(page_end(page), 0);
	fclose(out);
	free(bytes);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(one_picture_is_the_chosen_one_alone),
	    cmocka_unit_test(a_picture_that_is_not_there_leaves_nothing),
	    cmocka_unit_test(pictures_are_no_affair_of_text_and_machines),
	    cmocka_unit_test(what_failed_to_be_made_is_told_at_the_end),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
