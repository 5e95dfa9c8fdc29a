/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Names that are made to do harm, in what programs and terminals read. */
#include "cli/page/page.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static void
put_names(struct page *page)
{
	static const char *const words[] = {"=1+1", "+SUM(A1)", "-lot", "@x", "-12",
	    "+4.5e3", "\t=1", "=A,B", "a=1", "'", "x\x1b[1m\x7f\xff\xe2\x80\xae"};
	static const struct column column[] = {{"name", "name", 0}};

	page_table(page, "rows", NULL, column, 1);
	for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
		page_row(
		    page, &(const struct cell){.kind = CELL_WORDS, .words = words[i]});
	page_table_end(page);
}

static void
expect(enum page_format format, const char *expected)
{
	char *bytes = NULL;
	size_t length;
	FILE *out = open_memstream(&bytes, &length);

	assert_non_null(out);
	struct page *page = page_new(out, format, false, "rows");
	assert_non_null(page);
	put_names(page);
	assert_int_equal(page_end(page), 0);
	fclose(out);
	assert_string_equal(bytes, expected);
	free(bytes);
}

/* Names of lots, tools and people come from outside. */
static void
a_spreadsheet_gets_words_and_no_formula(void **state)
{
	(void)state;
	expect(PAGE_CSV,
	    "name\r\n'=1+1\r\n'+SUM(A1)\r\n'-lot\r\n'@x\r\n-12\r\n+4.5e3\r\n"
	    "'\t=1\r\n\"'=A,B\"\r\na=1\r\n'\r\nx\xef\xbf\xbd[1m\xef\xbf\xbd"
	    "\xef\xbf\xbd\xef\xbf\xbd\r\n");
}

static void
json_has_no_character_that_steers(void **state)
{
	(void)state;
	expect(PAGE_JSON, "{\n"
			  "  \"rows\": [\n"
			  "    {\"name\": \"=1+1\"},\n"
			  "    {\"name\": \"+SUM(A1)\"},\n"
			  "    {\"name\": \"-lot\"},\n"
			  "    {\"name\": \"@x\"},\n"
			  "    {\"name\": \"-12\"},\n"
			  "    {\"name\": \"+4.5e3\"},\n"
			  "    {\"name\": \"\\u0009=1\"},\n"
			  "    {\"name\": \"=A,B\"},\n"
			  "    {\"name\": \"a=1\"},\n"
			  "    {\"name\": \"'\"},\n"
			  "    {\"name\": \"x\\u001b[1m\\u007f\\ufffd\\u202e\"}\n"
			  "  ]\n"
			  "}\n");
}

static void
text_has_no_character_that_steers(void **state)
{
	(void)state;
	expect(PAGE_TEXT,
	    "  name\n  =1+1\n  +SUM(A1)\n  -lot\n  @x\n  -12\n  +4.5e3\n  ?=1\n"
	    "  =A,B\n  a=1\n  '\n  x?[1m???\n");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_spreadsheet_gets_words_and_no_formula),
	    cmocka_unit_test(json_has_no_character_that_steers),
	    cmocka_unit_test(text_has_no_character_that_steers),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
