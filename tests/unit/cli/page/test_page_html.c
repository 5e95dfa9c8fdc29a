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
#include "tests/unit/cli/page/markup.h"
#include "tests/unit/cli/page/written.h"
#include "tests/unit/seed.h"

static struct page *
begin(void)
{
	return written_begin(PAGE_HTML);
}

static void
end(struct page *page)
{
	written_end(page);
	assert_int_equal(strlen(written), length);
	const char *fault = markup_check(written);
	if (fault) {
		fputs(written, stderr);
		fail_msg("%s", fault);
	}
}

static void
assert_has(const char *part)
{
	if (!strstr(written, part)) {
		fputs(written, stderr);
		fail_msg("'%s' is not in it", part);
	}
}

static void
assert_has_not(const char *part)
{
	if (strstr(written, part))
		fail_msg("'%s' is in:\n%s", part, written);
}

static void
draw_clipped(struct canvas *canvas, const void *what)
{
	const struct canvas_letters letters = {.size = 9};

	canvas_clip(canvas, (struct canvas_box){0, 0, 20, 20});
	canvas_text(canvas, (struct canvas_point){1, 9}, &letters, what);
	canvas_unclip(canvas);
}

static const struct picture picture = {.name = "one",
    .title = "Shots <in> order",
    .description = "8 of them",
    .size = {100, 50},
    .draw = draw_clipped,
    .what = "words & words"};

static const struct column columns[] = {
    {"name", "characteristic", 0},
    {"n", "shots", 0},
    {"verdict", "verdict", 0},
    {"cp", "Cp", 1},
};

static void
put_table(struct page *page, const char *heading)
{
	struct cell bad = cell_words("not capable");
	bad.tone = TONE_BAD;
	const struct cell rows[][4] = {
	    {cell_words("cycle_s"), cell_count(160), bad, cell_number(1.25, 2)},
	    {cell_words("exit_c"), cell_count(7), cell_words("capable"),
		cell_words("")},
	};

	page_table(page, "table", heading, columns, 4);
	for (int i = 0; i < 2; i++)
		page_row(page, rows[i]);
	page_across(page, TONE_FAINT, "a sentence between");
	page_table_end(page);
}

static void
an_empty_page_is_a_document(void **state)
{
	(void)state;
	end(begin());
	assert_has("<html lang=\"en\"");
	assert_has("<meta name=\"viewport\"");
	assert_has("<title>evensoak</title>");
	assert_has("@page{size:A4");
	assert_has_not("<nav");
}

static void
headings_go_down_with_the_groups(void **state)
{
	struct page *page = begin();

	(void)state;
	page_title(page, "Early shift");
	page_open(page, GROUP_OBJECT, "a", "First");
	page_open(page, GROUP_LIST, "b", NULL);
	page_open(page, GROUP_ITEM, NULL, "Below");
	page_close(page);
	page_close(page);
	page_close(page);
	page_open(page, GROUP_OBJECT, "c", "Second");
	page_close(page);
	end(page);
	assert_has("<title>Early shift - evensoak</title>");
	assert_has("<h1 id=\"s1\">Early shift</h1>");
	assert_has("<h2 id=\"s2\">First</h2>");
	assert_has("<section aria-labelledby=\"s3\">\n<h3 id=\"s3\">Below</h3>");
	assert_has("<h2 id=\"s4\">Second</h2>");
	assert_has_not("<nav");
}

static void
a_long_page_lists_its_headings_after_the_first_words(void **state)
{
	struct page *page = begin();

	(void)state;
	page_title(page, "Early shift");
	page_note(page, NULL, TONE_STRONG, "The verdict");
	page_field(page, "site", "site", cell_words("works"));
	for (int i = 0; i < 3; i++) {
		page_open(page, GROUP_OBJECT, "a", "Part <&>");
		for (int k = 0; k < i; k++) {
			page_open(page, GROUP_OBJECT, "b", "Detail");
			page_close(page);
		}
		page_close(page);
	}
	end(page);
	assert_has("The verdict</p>\n<nav aria-labelledby=\"contents\">");
	assert_has("<li><a href=\"#s2\">Part &lt;&amp;&gt;</a></li>\n"
		   "<li><a href=\"#s3\">Part &lt;&amp;&gt;</a>\n"
		   "<ul>\n<li><a href=\"#s4\">Detail</a></li></ul></li>\n"
		   "<li><a href=\"#s5\">");
	assert_has("<a href=\"#s7\">Detail</a></li></ul></li>\n</ul></nav>");
	assert_has_not("href=\"#s1\"");
}

/* A page without a title: a heading stands by what it heads. */
static void
contents_never_part_a_heading_from_what_it_heads(void **state)
{
	struct page *page = begin();

	(void)state;
	page_note(page, NULL, TONE_STRONG, "The verdict");
	page_note(page, NULL, TONE_PLAIN, "The advice");
	for (int i = 0; i < 5; i++) {
		page_open(page, GROUP_OBJECT, "a", "Part");
		page_field(page, "n", "values", cell_count(i));
		page_close(page);
	}
	end(page);
	assert_has("The advice</p>\n<nav aria-labelledby=\"contents\">");
	assert_has("</nav>\n<section aria-labelledby=\"s1\">");
}

static void
no_line_ends_between_a_number_and_its_unit(void **state)
{
	struct page *page = begin();

	(void)state;
	page_note(
	    page, NULL, TONE_PLAIN, "95 %% of 12 shots: 4.2 F, 3 some, 7 sheets, 9 s");
	end(page);
	assert_has("95\xc2\xa0% of 12 shots: 4.2\xc2\xa0"
		   "F, 3 some, 7 sheets, 9\xc2\xa0s</p>");
}

static void
several_first_headings_are_all_listed(void **state)
{
	struct page *page = begin();

	(void)state;
	for (int i = 0; i < 5; i++) {
		page_open(page, GROUP_OBJECT, "a", "A line");
		page_close(page);
	}
	end(page);
	for (int i = 1; i <= 5; i++) {
		char link[40];
		snprintf(link, sizeof link, "<li><a href=\"#s%d\">", i);
		assert_has(link);
	}
}

static void
a_table_tells_what_its_cells_belong_to(void **state)
{
	struct page *page = begin();

	(void)state;
	put_table(page, "All");
	end(page);
	assert_has("<div class=\"table short\" tabindex=\"0\" role=\"region\" "
		   "aria-labelledby=\"t1\"><table>\n"
		   "<caption id=\"t1\">All</caption>");
	assert_has("<thead><tr><th scope=\"col\">characteristic</th>"
		   "<th scope=\"col\" class=\"n\">shots</th>"
		   "<th scope=\"col\">verdict</th></tr>\n</thead>");
	assert_has("<tr><th scope=\"row\">cycle_<wbr/>s</th><td class=\"n\">160</td>"
		   "<td class=\"bad\">not capable</td></tr>");
	assert_has("<tr class=\"across\"><td colspan=\"3\" class=\"faint\">a sentence "
		   "between</td></tr>");
	/* another block is a table of its own, without rows that are empty there */
	assert_has("<caption id=\"t2\">All, continued</caption>");
	assert_has("<th scope=\"row\">cycle_<wbr/>s</th><td class=\"n\">1.25</td>");
	assert_null(strstr(strstr(written, "continued"), "exit_"));
}

static void
a_table_without_rows_is_left_out(void **state)
{
	struct page *page = begin();

	(void)state;
	page_table(page, "table", "All", columns, 4);
	page_table_end(page);
	end(page);
	assert_has_not("<table>");
	assert_has_not(">All<");
}

static void
fields_are_one_list_until_something_else_comes(void **state)
{
	struct page *page = begin();
	const struct cell cells[] = {cell_count(1), cell_words("a & b")};

	(void)state;
	page_field(page, "a", "recipe", cell_words("114"));
	page_field(page, "hidden", NULL, cell_words("for machines"));
	page_list(page, "b", "lots", cells, 2);
	page_list(page, "c", "none", NULL, 0);
	page_note(page, NULL, TONE_BAD, "A sentence");
	page_field(page, "d", "tool", cell_absent(NULL));
	end(page);
	assert_has(
	    "<dl>\n<div><dt>recipe</dt><dd>114</dd></div>\n"
	    "<div><dt>lots</dt><dd><span>1,</span> <span>a &amp; b</span></dd></div>\n"
	    "<div><dt>none</dt><dd class=\"faint\">-</dd></div>\n</dl>\n"
	    "<p class=\"bad\">A sentence</p>\n<dl>\n"
	    "<div><dt>tool</dt><dd class=\"faint\">-</dd></div>\n</dl>\n");
	assert_has_not("machines");
}

static void
each_picture_has_its_words_and_its_ids(void **state)
{
	struct page *page = begin();

	(void)state;
	page_picture(page, &picture, "What <it> shows");
	page_picture(page, &picture, NULL);
	end(page);
	assert_has("role=\"img\"");
	assert_has("<title id=\"p1-title\">Shots &lt;in&gt; order</title>\n"
		   "<desc id=\"p1-desc\">8 of them</desc>");
	assert_has("<clipPath id=\"p2-clip1\">");
	assert_has(">words &amp; words</text>");
	assert_has("<figcaption>What &lt;it&gt; shows</figcaption>");
	assert_has_not("<?xml");
}

/* --- whatever comes ------------------------------------------------------------------ */

static void
no_words_break_out_of_their_place(void **state)
{
	unsigned seed = seed_take(7);

	(void)state;
	for (int i = 0; i < 2000; i++) {
		struct page *page = begin();
		anything_put(page, &picture, &seed);
		end(page);
	}
}

static void
put_dangerous(struct page *page)
{
	page_open(page, GROUP_OBJECT, "a", "</title><script>x</script>");
	page_field(page, "b", "\"><img src=x>", cell_words("' onclick='x"));
	page_close(page);
}

static void
markup_in_words_is_shown_as_it_is(void **state)
{
	struct page *page = begin();

	(void)state;
	put_dangerous(page);
	end(page);
	assert_has(
	    "<title>&lt;/title&gt;&lt;script&gt;x&lt;/script&gt; - evensoak</title>");
	assert_has("<dt>&quot;&gt;&lt;img src=x&gt;</dt><dd>&#39; onclick=&#39;x</dd>");
}

static void
a_page_without_a_title_is_named_by_its_first_words(void **state)
{
	struct page *page = begin();
	char words[700];

	(void)state;
	page_note(page, NULL, TONE_STRONG, "bore of file.csv: not capable");
	page_open(page, GROUP_OBJECT, "a", "The values");
	page_close(page);
	end(page);
	assert_has("<title>bore of file.csv: not capable - evensoak</title>");
	page = begin();
	memset(words, 'x', sizeof words - 1);
	words[sizeof words - 1] = '\0';
	page_note(page, NULL, TONE_STRONG, "%s", words);
	end(page);
	assert_has("xxx\xe2\x80\xa6 - evensoak</title>");
	words[161] = '\0'; /* one more than is kept */
	assert_has_not(strcat(words, "\xe2\x80\xa6"));
}

static void
words_over_a_drawing_are_words_of_the_page_too(void **state)
{
	struct page *page = begin();
	struct picture headed = picture;

	(void)state;
	headed.heading = "exit <top>";
	headed.sentence = "wandered";
	headed.head = 36;
	headed.in_time = true;
	page_picture(page, &headed, NULL);
	page_picture(page, &picture, NULL);
	end(page);
	assert_has("<p class=\"strong\">exit &lt;top&gt;</p><p>wandered</p>");
	assert_has("<div class=\"drawing recent\" tabindex=\"0\" "
		   "style=\"--head:0.3600\">");
	assert_has("<div class=\"drawing\" tabindex=\"0\">");
}

static void
contents_stand_behind_a_picture_of_the_answer(void **state)
{
	struct page *page = begin();

	(void)state;
	page_note(page, NULL, TONE_STRONG, "not capable");
	page_picture(page, &picture, NULL);
	for (int i = 0; i < 6; i++) {
		page_open(page, GROUP_OBJECT, "a", "A section");
		page_close(page);
	}
	end(page);
	const char *nav = strstr(written, "<nav");
	assert_non_null(nav);
	assert_true(nav > strstr(written, "</figure>"));
	assert_true(nav < strstr(written, "<section"));
}

static void
only_a_wide_table_tells_a_narrow_screen_that_it_is(void **state)
{
	static const struct column two[] = {{"name", "name", 0}, {"n", "shots", 0}};
	const struct cell row[] = {cell_words("cycle_s"), cell_count(160)};
	struct page *page = begin();

	(void)state;
	page_table(page, "table", NULL, two, 2);
	page_row(page, row);
	page_table_end(page);
	end(page);
	assert_has("<div class=\"table short\"");
	page = begin();
	static const struct column many[] = {{"a", "characteristic", 0},
	    {"b", "verdict", 0}, {"c", "where", 0}, {"d", "what", 0}};
	const struct cell wide[] = {cell_words("tool_spread_of_means_dc"),
	    cell_words("not established"), cell_words("in the machine"),
	    cell_words("no sheet in the frame")};
	page_table(page, "table", NULL, many, 4);
	page_row(page, wide);
	page_table_end(page);
	end(page);
	assert_has("<div class=\"table short wide\"");
}

static void
the_check_of_markup_can_fail(void **state)
{
	static const char *const wrong[] = {"<p>", "<p></b>", "<p>a & b</p>",
	    "<p class=x></p>", "<p id=\"a\"></p><p id=\"a\"></p>",
	    "<a href=\"#none\"></a>", "<script></script>", "<p>\x01</p>", "<p>\xff</p>",
	    "<p>></p>", "<a href=\"http://x\"></a>", "<p onload=\"x\"></p>",
	    "<g clip-path=\"url(#no)\"></g>", "<img src=\"x\"/>",
	    "<p title=\"<\"></p>"};

	(void)state;
	assert_null(markup_check("<!DOCTYPE html>\n<p id=\"a\">&lt;</p>"));
	for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
		char document[200];
		snprintf(document, sizeof document, "<!DOCTYPE html>\n%s", wrong[i]);
		if (!markup_check(document))
			fail_msg("'%s' passed", wrong[i]);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(an_empty_page_is_a_document),
	    cmocka_unit_test(headings_go_down_with_the_groups),
	    cmocka_unit_test(a_long_page_lists_its_headings_after_the_first_words),
	    cmocka_unit_test(contents_never_part_a_heading_from_what_it_heads),
	    cmocka_unit_test(no_line_ends_between_a_number_and_its_unit),
	    cmocka_unit_test(several_first_headings_are_all_listed),
	    cmocka_unit_test(a_table_tells_what_its_cells_belong_to),
	    cmocka_unit_test(a_table_without_rows_is_left_out),
	    cmocka_unit_test(fields_are_one_list_until_something_else_comes),
	    cmocka_unit_test(each_picture_has_its_words_and_its_ids),
	    cmocka_unit_test(no_words_break_out_of_their_place),
	    cmocka_unit_test(markup_in_words_is_shown_as_it_is),
	    cmocka_unit_test(a_page_without_a_title_is_named_by_its_first_words),
	    cmocka_unit_test(words_over_a_drawing_are_words_of_the_page_too),
	    cmocka_unit_test(contents_stand_behind_a_picture_of_the_answer),
	    cmocka_unit_test(only_a_wide_table_tells_a_narrow_screen_that_it_is),
	    cmocka_unit_test(the_check_of_markup_can_fail),
	};
	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	free(written);
	return failed;
}
