/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/page/page.h"
#include "cli/page/width.h"

static const struct column columns[] = {
    {"name", "name", 0},
    {"code", NULL, 0},
    {"value_c", "value", 0},
    {NULL, "remark", 0},
};

static struct page *
begin(enum page_format format, bool colour, FILE **out, char **bytes, size_t *length)
{
	*out = open_memstream(bytes, length);
	assert_non_null(*out);
	struct page *page = page_new(*out, format, colour, "rows");
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
put_rows(struct page *page)
{
	const struct cell rows[][4] = {
	    {cell_words("Größe"), cell_count(7), cell_shown(10, 50, 1), cell_words("")},
	    {cell_words("a, \"b\""), cell_absent(NULL), cell_number(NAN, 1),
		cell_words("late")},
	    {cell_words("x"), cell_truth(true), cell_absent("stale"), cell_words("")},
	};

	page_table(page, "rows", "Rows", columns, 4);
	for (size_t i = 0; i < 3; i++)
		page_row(page, rows[i]);
	page_table_end(page);
}

static void
expect(enum page_format format, void (*put)(struct page *page), const char *expected)
{
	char *bytes = NULL;
	size_t length;
	FILE *out;
	struct page *page = begin(format, false, &out, &bytes, &length);

	put(page);
	end(page, out);
	assert_string_equal(bytes, expected);
	free(bytes);
}

static void
columns_line_up_whatever_the_script(void **state)
{
	(void)state;
	expect(PAGE_TEXT, put_rows,
	    "Rows\n"
	    "  name    value  remark\n"
	    "  Größe    50.0\n"
	    "  a, \"b\"      -  late\n"
	    "  x       stale\n");
}

static void
machines_get_the_exact_values_and_their_own_columns(void **state)
{
	(void)state;
	expect(PAGE_JSON, put_rows,
	    "{\n"
	    "  \"rows\": [\n"
	    "    {\"name\": \"Größe\", \"code\": 7, \"value_c\": 10},\n"
	    "    {\"name\": \"a, \\\"b\\\"\", \"code\": null, \"value_c\": null},\n"
	    "    {\"name\": \"x\", \"code\": true, \"value_c\": null}\n"
	    "  ]\n"
	    "}\n");
}

static void
csv_is_quoted_as_rfc_4180_says(void **state)
{
	(void)state;
	/* RFC 4180, 2: CRLF, quotes round a field with comma or quote, quotes doubled */
	expect(PAGE_CSV, put_rows,
	    "name,code,value_c\r\n"
	    "Größe,7,10\r\n"
	    "\"a, \"\"b\"\"\",,\r\n"
	    "x,true,\r\n");
}

static void
put_lists(struct page *page)
{
	const struct cell cells[] = {
	    cell_number(0.1, 2), cell_words("a \"b\""), cell_absent(NULL)};

	page_list(page, "three", "three things", cells, 3);
	page_list(page, "none", "no thing", cells, 0);
	page_list(page, NULL, "people alone", cells, 1);
	page_list(page, "machines", NULL, cells, 1);
}

static void
a_list_is_an_array_or_values_with_commas(void **state)
{
	(void)state;
	expect(PAGE_JSON, put_lists,
	    "{\n"
	    "  \"three\": [0.1, \"a \\\"b\\\"\", null],\n"
	    "  \"none\": [],\n"
	    "  \"machines\": [0.1]\n"
	    "}\n");
	expect(PAGE_TEXT, put_lists,
	    "  three things  0.10, a \"b\", -\n"
	    "  no thing      -\n"
	    "  people alone  0.10\n");
	expect(PAGE_CSV, put_lists, "");
}

static void
put_two_tables(struct page *page)
{
	const struct cell cells[] = {cell_words("one\r\nline"), cell_count(1),
	    cell_number(1.0 / 3, 1), cell_words("")};

	for (int i = 0; i < 2; i++) {
		page_table(page, "rows", NULL, columns, 4);
		page_row(page, cells);
		page_table_end(page);
		page_table(page, "others", NULL, columns, 4);
		page_row(page, cells);
		page_table_end(page);
	}
	page_field(page, "field", "field", cell_count(3));
	page_note(page, "note", TONE_PLAIN, "a sentence");
}

static void
csv_holds_one_table_under_one_header(void **state)
{
	(void)state;
	expect(PAGE_CSV, put_two_tables,
	    "name,code,value_c\r\n"
	    "\"one\r\nline\",1,0.3333333333333333\r\n"
	    "\"one\r\nline\",1,0.3333333333333333\r\n");
}

static void
put_awkward(struct page *page)
{
	page_field(
	    page, "text", "text", cell_words("tab\t esc\033[31m \\ \" nul-free"));
	page_field(page, "bad", "bad", cell_words("\xff\xc3(\xed\xa0\x80"));
	page_field(page, "nan", "nan", cell_number(NAN, 2));
	page_field(page, "infinite", NULL, cell_number(INFINITY, 2));
	page_field(page, "small", "small", cell_number(-0.0004, 2));
	page_field(page, "huge", NULL, cell_count(INT64_MIN));
	page_field(page, "at", NULL, cell_time((struct wall){1772427600123456789}));
	page_field(page, "never", "never", cell_time((struct wall){0}));
	page_field(page, NULL, "people", cell_words("yes"));
}

static void
json_strings_are_escaped_and_valid(void **state)
{
	(void)state;
	/* RFC 8259, 7; invalid UTF-8 becomes U+FFFD, one for each byte (RFC 3629: no
	 * surrogates) */
	expect(PAGE_JSON, put_awkward,
	    "{\n"
	    "  \"text\": \"tab\\u0009 esc\\u001b[31m \\\\ \\\" nul-free\",\n"
	    "  \"bad\": \"\\ufffd\\ufffd(\\ufffd\\ufffd\\ufffd\",\n"
	    "  \"nan\": null,\n"
	    "  \"infinite\": null,\n"
	    "  \"small\": -0.0004,\n"
	    "  \"huge\": -9223372036854775808,\n"
	    "  \"at\": \"2026-03-02T05:00:00.123Z\",\n"
	    "  \"never\": null\n"
	    "}\n");
}

static void
a_name_cannot_steer_the_terminal(void **state)
{
	(void)state;
	expect(PAGE_TEXT, put_awkward,
	    "  text    tab? esc?[31m \\ \" nul-free\n"
	    "  bad     ?\?(???\n"
	    "  nan     -\n"
	    "  small   0.00\n"
	    "  never   -\n"
	    "  people  yes\n");
}

static void
put_awkward_heading(struct page *page)
{
	page_open(page, GROUP_OBJECT, "lot", "lot \033[31mred");
	page_field(page, "n", "n", cell_count(1));
	page_close(page);
}

static void
a_heading_cannot_steer_the_terminal(void **state)
{
	(void)state;
	expect(PAGE_TEXT, put_awkward_heading,
	    "lot ?[31mred\n"
	    "============\n"
	    "  n  1\n");
}

static void
put_groups(struct page *page)
{
	page_open(page, GROUP_LIST, "lines", NULL);
	for (int i = 0; i < 2; i++) {
		page_open(page, GROUP_ITEM, NULL, i ? "Größe" : "first");
		page_field(page, "n", "n", cell_count(i));
		page_open(page, GROUP_LIST, "parts", NULL);
		page_close(page);
		page_close(page);
	}
	page_close(page);
	page_open(page, GROUP_OBJECT, "remarks", NULL);
	page_note(page, "gap", TONE_PLAIN, "%d is %s", 3, "three");
	page_close(page);
}

static void
groups_nest_in_json_and_are_headings_in_text(void **state)
{
	(void)state;
	expect(PAGE_JSON, put_groups,
	    "{\n"
	    "  \"lines\": [\n"
	    "    {\n"
	    "      \"n\": 0,\n"
	    "      \"parts\": []\n"
	    "    },\n"
	    "    {\n"
	    "      \"n\": 1,\n"
	    "      \"parts\": []\n"
	    "    }\n"
	    "  ],\n"
	    "  \"remarks\": {\n"
	    "    \"gap\": \"3 is three\"\n"
	    "  }\n"
	    "}\n");
	expect(PAGE_TEXT, put_groups,
	    "first\n"
	    "=====\n"
	    "  n  0\n"
	    "\n"
	    "Größe\n"
	    "=====\n"
	    "  n  1\n"
	    "3 is three\n");
}

static void
put_blocks(struct page *page)
{
	static const struct column wide[] = {
	    {"name", "name", 0},
	    {"a", "a", 0},
	    {"b", "b", 1},
	    {"none", "none", 1},
	};
	struct cell withheld = cell_number(1.5, 2);

	withheld.instead = "withheld";
	const struct cell cells[] = {
	    cell_words("x"), cell_count(1), withheld, cell_words("")};
	page_table(page, "wide", NULL, wide, 4);
	page_row(page, cells);
	page_table_end(page);
	page_table(page, "empty", "Nothing here", wide, 4);
	page_table_end(page);
}

static void
a_wide_table_folds_and_an_empty_one_is_not_shown(void **state)
{
	(void)state;
	expect(PAGE_TEXT, put_blocks,
	    "  name  a\n"
	    "  x     1\n"
	    "\n"
	    "  name         b\n"
	    "  x     withheld\n");
	expect(PAGE_JSON, put_blocks,
	    "{\n"
	    "  \"wide\": [\n"
	    "    {\"name\": \"x\", \"a\": 1, \"b\": 1.5, \"none\": \"\"}\n"
	    "  ],\n"
	    "  \"empty\": []\n"
	    "}\n");
}

static void
colour_is_only_where_it_is_asked_for(void **state)
{
	(void)state;
	for (int colour = 0; colour < 2; colour++) {
		char *bytes = NULL;
		size_t length;
		FILE *out;
		struct page *page = begin(PAGE_TEXT, colour, &out, &bytes, &length);
		page_note(page, NULL, TONE_BAD, "wrong");
		end(page, out);
		assert_string_equal(
		    bytes, colour ? "\033[31mwrong\033[0m\n" : "wrong\n");
		free(bytes);
	}
}

static int wide; /* columns; 0: as it begins */

static void
put_long(struct page *page)
{
	if (wide > 0)
		page_set_width(page, wide);
	page_note(page, NULL, TONE_PLAIN,
	    "twelve bytes twelve bytes twelve bytes twelve bytes twelve bytes "
	    "twelve bytes 1234567890 123456789 next");
}

static void
a_sentence_wraps_at_a_word_as_wide_as_the_page(void **state)
{
	(void)state;
	wide = 0;
	expect(PAGE_TEXT, put_long,
	    "twelve bytes twelve bytes twelve bytes twelve bytes twelve bytes "
	    "twelve bytes 1234567890 123456789\n"
	    "  next\n");
	wide = 60;
	expect(PAGE_TEXT, put_long,
	    "twelve bytes twelve bytes twelve bytes twelve bytes twelve\n"
	    "  bytes twelve bytes 1234567890 123456789 next\n");
	wide = 200;
	expect(PAGE_TEXT, put_long,
	    "twelve bytes twelve bytes twelve bytes twelve bytes twelve bytes "
	    "twelve bytes 1234567890 123456789 next\n");
}

static void
put_broad(struct page *page)
{
	static const struct column broad[] = {{"n", "n", 0}, {"first", "first", 0},
	    {"second", "second", 0}, {"third", "third", 0}, {"remark", "remark", 0}};
	const struct cell cells[] = {cell_count(1), cell_number(1.25, 2),
	    cell_number(-20.5, 1), cell_count(30),
	    cell_words("in the last column words still wrap under each other")};

	page_set_width(page, 40);
	page_table(
	    page, "rows", "Wider than the forty columns that are there", broad, 5);
	page_across(
	    page, TONE_PLAIN, "a sentence across that is wider than those forty");
	page_row(page, cells);
	page_table_end(page);
}

static void
a_table_that_is_too_wide_folds_at_a_column(void **state)
{
	(void)state;
	expect(PAGE_TEXT, put_broad,
	    "Wider than the forty columns that are\n"
	    "there\n"
	    "  n  first  second  third\n"
	    "  a sentence across that is wider than\n"
	    "    those forty\n"
	    "  1   1.25   -20.5     30\n"
	    "\n"
	    "  n  remark\n"
	    "  1  in the last column words still wrap\n"
	    "     under each other\n");
}

static void
put_keyed(struct page *page)
{
	static const struct column keyed[] = {
	    {"line", NULL, COLUMN_EACH}, /* people do not see it */
	    {"shot", "shot", COLUMN_EACH},
	    {"lot", "lot", COLUMN_EACH},
	    {"first", "first", 0},
	    {"second", "second", 0},
	    {"remark", "remark", 0},
	};
	const struct cell rows[][6] = {
	    {cell_words("a"), cell_count(8), cell_words("A"), cell_count(1),
		cell_count(2), cell_words("")},
	    {cell_words("a"), cell_count(9), cell_words("B"), cell_count(3),
		cell_count(4), cell_words("odd")},
	};

	page_set_width(page, 24);
	page_table(page, "rows", NULL, keyed, 6);
	page_row(page, rows[0]);
	page_across(page, TONE_BAD, "-- a hole --");
	page_row(page, rows[1]);
	page_table_end(page);
}

static void
each_block_says_of_what_and_leaves_out_what_has_nothing_in_it(void **state)
{
	(void)state;
	expect(PAGE_TEXT, put_keyed,
	    "  shot  lot  first\n"
	    "     8  A        1\n"
	    "  -- a hole --\n"
	    "     9  B        3\n"
	    "\n"
	    "  shot  lot  second\n"
	    "     8  A         2\n"
	    "     9  B         4\n"
	    "\n"
	    "  shot  lot  remark\n"
	    "     9  B    odd\n");
	expect(PAGE_CSV, put_keyed,
	    "line,shot,lot,first,second,remark\r\n"
	    "a,8,A,1,2,\r\n"
	    "a,9,B,3,4,odd\r\n");
}

static void
put_remarks(struct page *page)
{
	static const struct column two[] = {{"n", "n", 0}, {"remark", "remark", 0}};
	const struct cell rows[][2] = {
	    {cell_count(1), cell_words("one two three four five six seven eight")},
	    {cell_count(22), cell_words("short")},
	    {cell_count(3), cell_words("a_word_that_is_longer_than_the_column x")},
	};

	page_set_width(page, 30);
	page_table(page, "rows", NULL, two, 2);
	for (size_t i = 0; i < 3; i++)
		page_row(page, rows[i]);
	page_table_end(page);
}

static void
words_in_the_last_column_wrap_under_each_other(void **state)
{
	(void)state;
	expect(PAGE_TEXT, put_remarks,
	    "   n  remark\n"
	    "   1  one two three four five\n"
	    "      six seven eight\n"
	    "  22  short\n"
	    "   3  a_word_that_is_longer_than_the_column\n"
	    "      x\n");
	expect(PAGE_CSV, put_remarks,
	    "n,remark\r\n"
	    "1,one two three four five six seven eight\r\n"
	    "22,short\r\n"
	    "3,a_word_that_is_longer_than_the_column x\r\n");
}

static void
put_across(struct page *page)
{
	static const struct column two[] = {{"n", "n", 0}, {"remark", "remark", 0}};
	const struct cell first[] = {cell_count(1), cell_words("one")};
	const struct cell second[] = {cell_count(22), cell_words("two")};

	page_table(page, "rows", NULL, two, 2);
	page_row(page, first);
	page_across(page, TONE_BAD, "-- a sentence as long as it has to be --");
	page_row(page, second);
	page_table_end(page);
}

static void
a_sentence_across_a_table_is_for_people_and_widens_nothing(void **state)
{
	(void)state;
	expect(PAGE_TEXT, put_across,
	    "   n  remark\n"
	    "   1  one\n"
	    "  -- a sentence as long as it has to be --\n"
	    "  22  two\n");
	expect(PAGE_CSV, put_across,
	    "n,remark\r\n"
	    "1,one\r\n"
	    "22,two\r\n");
}

static void
put_for_one_audience(struct page *page)
{
	static const struct column machines[] = {{"raw", NULL, 0}};
	static const struct column people[] = {{NULL, "told", 0}};
	const struct cell cell = cell_count(1);

	page_table(page, "rows", "Not for people", machines, 1);
	page_row(page, &cell);
	page_table_end(page);
	page_table(page, NULL, "Not for machines", people, 1);
	page_row(page, &cell);
	page_table_end(page);
}

static void
a_table_may_be_for_people_or_machines_alone(void **state)
{
	(void)state;
	expect(PAGE_TEXT, put_for_one_audience,
	    "Not for machines\n"
	    "  told\n"
	    "     1\n");
	expect(PAGE_CSV, put_for_one_audience, "raw\r\n1\r\n");
	expect(PAGE_JSON, put_for_one_audience,
	    "{\n"
	    "  \"rows\": [\n"
	    "    {\"raw\": 1}\n"
	    "  ]\n"
	    "}\n");
}

static void
a_line_ends_at_a_blank_or_with_the_string(void **state)
{
	(void)state;
	assert_int_equal(width_line("one two", 7), 7);
	assert_int_equal(width_line("one two", 6), 3);
	assert_int_equal(width_line("one two", 3), 3);
	assert_int_equal(width_line("one two", 2), 3);
	assert_int_equal(width_line("", 5), 0);
	assert_int_equal(width_line("Gr\xc3\xb6\xc3\x9f"
				    "e zwei",
			     5),
	    7); /* in bytes */
}

static void
widths_are_those_of_a_terminal(void **state)
{
	(void)state;
	assert_int_equal(width_of("abc"), 3);
	assert_int_equal(width_of("Größe"), 5);
	assert_int_equal(width_of("e\xcc\x81"), 1); /* e, combining acute */
	assert_int_equal(width_of("\xe6\x9d\x90\xe6\x96\x99"), 4); /* two wide */
	assert_int_equal(width_of("\xff"), 1);
	assert_int_equal(width_of(""), 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_list_is_an_array_or_values_with_commas),
	    cmocka_unit_test(columns_line_up_whatever_the_script),
	    cmocka_unit_test(machines_get_the_exact_values_and_their_own_columns),
	    cmocka_unit_test(csv_is_quoted_as_rfc_4180_says),
	    cmocka_unit_test(csv_holds_one_table_under_one_header),
	    cmocka_unit_test(json_strings_are_escaped_and_valid),
	    cmocka_unit_test(a_name_cannot_steer_the_terminal),
	    cmocka_unit_test(a_heading_cannot_steer_the_terminal),
	    cmocka_unit_test(groups_nest_in_json_and_are_headings_in_text),
	    cmocka_unit_test(a_wide_table_folds_and_an_empty_one_is_not_shown),
	    cmocka_unit_test(colour_is_only_where_it_is_asked_for),
	    cmocka_unit_test(a_sentence_wraps_at_a_word_as_wide_as_the_page),
	    cmocka_unit_test(a_table_that_is_too_wide_folds_at_a_column),
	    cmocka_unit_test(
		each_block_says_of_what_and_leaves_out_what_has_nothing_in_it),
	    cmocka_unit_test(words_in_the_last_column_wrap_under_each_other),
	    cmocka_unit_test(
		a_sentence_across_a_table_is_for_people_and_widens_nothing),
	    cmocka_unit_test(a_table_may_be_for_people_or_machines_alone),
	    cmocka_unit_test(a_line_ends_at_a_blank_or_with_the_string),
	    cmocka_unit_test(widths_are_those_of_a_terminal),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
