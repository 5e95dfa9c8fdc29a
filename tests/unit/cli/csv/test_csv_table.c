/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cli/csv/csv_table.h"
#include "conf/settings.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

static struct csv_table table;
static struct problems problems;

/* Reads `text` as standard input. */
static bool
take_bytes(const char *text, size_t length, const struct csv_table_asked *asked)
{
	FILE *in = length > 0 ? fmemopen((void *)(uintptr_t)text, length, "r")
	                      : fopen("/dev/null", "r");

	assert_non_null(in);
	csv_table_release(&table);
	bool fine = csv_table_read(&table, "-", in, asked, &problems);
	fclose(in);
	return fine;
}

static bool
take(const char *text, const char *column, bool decimal_comma)
{
	const struct csv_table_asked asked = {
	    .column = {column}, .column_count = 1, .decimal_comma = decimal_comma};

	return take_bytes(text, strlen(text), &asked);
}

/* NAN: missing. */
static void
expect_values(const double *values, size_t count)
{
	assert_int_equal(problems.count, 0);
	assert_int_equal(table.count, count);
	for (size_t i = 0; i < count; i++)
		if (isnan(values[i]))
			assert_true(isnan(table.values[i]));
		else
			assert_near(table.values[i], values[i], 0);
}
#define EXPECT(...)                                  \
	expect_values((const double[]){__VA_ARGS__}, \
	    sizeof((const double[]){__VA_ARGS__}) / sizeof(double))

static void
expect_problem(size_t i, const char *sentence)
{
	assert_true(problems.count > i);
	assert_string_equal(problems.list[i].text, sentence);
}

static void
what_parts_the_columns_is_found(void **state)
{
	(void)state;
	assert_true(take("a,b\n1,2\n3,4\n", "b", false));
	EXPECT(2, 4);
	assert_string_equal(table.title, "b");
	assert_true(take("a;b\n1;2\n3;4\n", "b", false));
	EXPECT(2, 4);
	assert_true(take("a\tb\n1\t2\n\t\n3\t4\n", "b", false));
	EXPECT(2, NAN, 4);
	/* the line below decides when the header has two of them */
	assert_true(take("temp, top;b\n1;2\n", "b", false));
	EXPECT(2);
	assert_true(take("x; y,z\n1,2\n", "z", false));
	EXPECT(2);
	assert_true(take("\"one; two; three\",b\n1,2\n", "b", false));
	EXPECT(2);
	/* and a header alone has no rows */
	assert_true(take("a,b\n", "b", false));
	assert_int_equal(table.count, 0);
	assert_true(take("a,b", "b", false));
	assert_int_equal(table.count, 0);
}

static void
decimal_commas_are_read_where_said(void **state)
{
	(void)state;
	assert_true(take("t;x\n0;1,5\n1;-0,25\n2;1e-3\n3;7\n", "x", true));
	EXPECT(1.5, -0.25, 1e-3, 7);
	assert_true(take("t\tx\n0,5\t1,5\n", "x", true));
	EXPECT(1.5);
	assert_true(take("x, top\n1,5\n2,5\n", NULL, true));
	EXPECT(1.5, 2.5);
	assert_false(take("x;y\n1.234,5;1\n1,2,3;1\n1.5;1\n", "x", true));
	expect_problem(0,
	    "standard input:2: 'x' is '1.234,5', must be a finite number, or empty or "
	    "'nan' where there is none; with --decimal-comma a number has no point");
	assert_int_equal(problems.count, 3);
	assert_false(take("x;y\n1,5;1\n", "x", false));
	expect_problem(0, "standard input:2: 'x' is '1,5', must be a finite number, or "
			  "empty or 'nan' "
			  "where there is none; is --decimal-comma meant?");
}

static void
missing_values_keep_their_place(void **state)
{
	(void)state;
	assert_true(take(
	    "t,x\n0,1\n1,\n2,nan\n3,NaN\n4, \n5,\"\"\n6,2\n7,-nan\n8,\n", "x", false));
	EXPECT(1, NAN, NAN, NAN, NAN, NAN, 2, NAN, NAN);
	/* of a single column an empty line is one, but at the end */
	assert_true(take("x\n\n1\n\n \n2\nnan\n\n\n", NULL, false));
	EXPECT(NAN, 1, NAN, NAN, 2, NAN);
	assert_int_equal(table.empty_at_end, 2);
	assert_true(take("x\n1\n\"\"\n", NULL, false));
	EXPECT(1, NAN);
	/* of more it is passed over */
	assert_true(take("t,x\n0,1\n\n1,2\n\n", "x", false));
	EXPECT(1, 2);
}

static void
files_are_read_as_programs_write_them(void **state)
{
	(void)state;
	assert_true(take("\xef\xbb\xbfx\r\n1\r\n\r\n2\r\n", "x", false));
	EXPECT(1, NAN, 2);
	assert_true(take("\"x\" , \"a \"\"note\"\", here\"\n \"1\" ,\"y, z\"\n"
			 "2,\"two\nlines\"\n3,5\" wide\n4,",
	    "x", false));
	EXPECT(1, 2, 3, 4);
	assert_true(take("\n\nx\n+1.5\n.5\n5.\n-0\n1E3\n  7  \n", NULL, false));
	EXPECT(1.5, 0.5, 5, 0, 1000, 7);
	/* columns in another alphabet, and in latin-1 */
	assert_true(take("Gr\xf6\xdf"
			 "e;x\n\xe9;1\n",
	    "x", false));
	EXPECT(1);
}

static void
what_is_no_number_is_refused_with_its_line(void **state)
{
	static const char *const wrong[] = {"inf", "-inf", "Infinity", "1e999",
	    "-1e999", "0x10", "1 2", "--1", "1-", ".", "e5", "1e", "abc", "n/a",
	    "1.2.3", "+", "-",
	    "\xc2\xb1"
	    "1"};
	char text[64], sentence[200];

	(void)state;
	for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
		snprintf(text, sizeof text, "x\n1\n%s\n2\n", wrong[i]);
		assert_false(take(text, "x", false));
		snprintf(sentence, sizeof sentence,
		    "standard input:3: 'x' is '%s', must be a finite number, or empty "
		    "or "
		    "'nan' where there is none",
		    wrong[i]);
		assert_int_equal(problems.count, 1);
		expect_problem(0, sentence);
		assert_int_equal(table.count, 0);
		assert_null(table.values);
	}
}

static void
every_mistake_is_told_and_lines_in_quotes_are_counted(void **state)
{
	(void)state;
	assert_false(take(
	    "x,note\n1,\"a\nb\"\n2\n3,4,5\nq,1\n\"6,1\n7,\"b\"c\n8,\n", "x", false));
	assert_int_equal(problems.count, 5);
	expect_problem(0, "standard input:4: 1 cell, must be 2 as the header has");
	expect_problem(1, "standard input:5: 3 cells, must be 2 as the header has");
	expect_problem(2,
	    "standard input:6: 'x' is 'q', must be a finite number, or empty or 'nan' "
	    "where there is none");
	expect_problem(3, "standard input:7: quotes that do not end");
	expect_problem(4, "standard input:8: quotes that end within a field");
}

static void
mistakes_of_one_kind_are_told_five_times_and_counted(void **state)
{
	(void)state;
	assert_false(
	    take("x;y\n1,5;1\n1,5;2\n1,5;3\n1,5;4\n1,5;5\n1,5;6\n1,5;7\n1;2;3\n", "x",
		false));
	assert_int_equal(problems.count, 7);
	expect_problem(5, "standard input:9: 3 cells, must be 2 as the header has");
	expect_problem(6, "standard input: and 2 more that are no number");
}

static void
headers_that_do_not_do_are_told(void **state)
{
	(void)state;
	assert_false(take("", NULL, false));
	expect_problem(
	    0, "standard input: is empty; its first line must name the columns");
	assert_false(take("\n\n", NULL, false));
	expect_problem(
	    0, "standard input: is empty; its first line must name the columns");
	assert_false(take("12.5\n13\n", NULL, false));
	expect_problem(0,
	    "standard input:1: the first line must name the column, and holds '12.5'");
	assert_false(take("a,b\n1,2\n", NULL, false));
	expect_problem(0,
	    "standard input:1: there are 2 columns: say which with --column; it has a, "
	    "b");
	assert_false(take("exit_top,exit_bottom\n1,2\n", "exit_tap", false));
	expect_problem(0,
	    "standard input:1: the header has no column 'exit_tap'; is 'exit_top' "
	    "meant?");
	assert_false(take("x,x\n1,2\n", "x", false));
	expect_problem(0, "standard input:1: the header has 'x' twice");
	static const char utf16[] = "\xff\xfex\0\n\0001\0\n";
	const struct csv_table_asked asked = {.column = {NULL}, .column_count = 1};
	assert_false(take_bytes(utf16, sizeof utf16 - 1, &asked));
	expect_problem(0, "standard input:1: has a zero byte in it: is this UTF-16? it "
			  "must be UTF-8");
	assert_false(
	    csv_table_read(&table, "/nowhere/at.csv", stdin, &asked, &problems));
	expect_problem(0, "/nowhere/at.csv: cannot be read: No such file or directory");
	assert_false(csv_table_read(&table, "/", stdin, &asked, &problems));
	expect_problem(0, "/: is a folder");
}

/* Each of the most labels there may be, in turn, twice; then one more. */
static void
as_many_labels_as_may_be_are_told_apart(void **state)
{
	const struct csv_table_asked asked = {
	    .column = {"part", "mm"}, .column_count = 2};
	size_t room = CSV_TABLE_LABELS * 32, length = 0;
	char *text = malloc(room);

	(void)state;
	assert_non_null(text);
	length += (size_t)snprintf(text, room, "part,mm\n");
	for (size_t i = 0; i < 2 * CSV_TABLE_LABELS; i++)
		length += (size_t)snprintf(
		    text + length, room - length, "p%zu,1\n", i % CSV_TABLE_LABELS);
	assert_true(take_bytes(text, length, &asked));
	assert_int_equal(table.count, 2 * CSV_TABLE_LABELS);
	assert_int_equal(table.name_count[0], CSV_TABLE_LABELS);
	for (size_t i = 0; i < table.count; i++)
		assert_int_equal(table.label[0][i], i % CSV_TABLE_LABELS);
	length += (size_t)snprintf(text + length, room - length, "q,1\n");
	assert_false(take_bytes(text, length, &asked));
	expect_problem(
	    0, "standard input:20002: 'part' has more than 10000 different entries");
	free(text);
}

static void
labels_are_numbered_as_they_come_up(void **state)
{
	const struct csv_table_asked asked = {
	    .column = {"part", "who", "mm"}, .column_count = 3};
	static const char text[] = "who;part;mm\nAnn;p2;1\nBo;p2;2\nAnn;p1;\n";
	static const char lacking[] = "who,part,mm\n,p2,1\n";

	(void)state;
	assert_true(take_bytes(text, sizeof text - 1, &asked));
	EXPECT(1, 2, NAN);
	assert_int_equal(table.name_count[0], 2);
	assert_string_equal(table.names[0][table.label[0][0]], "p2");
	assert_string_equal(table.names[0][table.label[0][2]], "p1");
	assert_string_equal(table.names[1][table.label[1][1]], "Bo");
	assert_int_equal(table.label[1][0], table.label[1][2]);
	assert_string_equal(table.title, "mm");
	assert_false(take_bytes(lacking, sizeof lacking - 1, &asked));
	expect_problem(0, "standard input:2: there is no 'who'");
}

/* The quick way for plain decimals gives what strtod gives. */
static void
numbers_are_the_nearest_doubles(void **state)
{
	unsigned short seed[3] = {1, 2, (unsigned short)seed_take(7)};
	char text[64];

	(void)state;
	for (int i = 0; i < 20000; i++) {
		int digits = (int)(nrand48(seed) % 18) + 1,
		    point = (int)(nrand48(seed) % 19);
		size_t at = 2;
		strcpy(text, "x\n");
		if (nrand48(seed) % 2)
			text[at++] = '-';
		for (int d = 0; d < digits; d++) {
			if (d == point)
				text[at++] = '.';
			text[at++] = (char)('0' + nrand48(seed) % 10);
		}
		text[at] = '\0';
		assert_true(take(text, "x", false));
		assert_int_equal(table.count, 1);
		assert_near(table.values[0], strtod(text + 2, NULL), 0);
	}
}

static void
a_line_that_is_too_long_and_quotes_that_never_end_are_told(void **state)
{
	const struct csv_table_asked asked = {.column = {"x"}, .column_count = 1};
	size_t length = 400000;
	char *text = malloc(length + 1);

	(void)state;
	assert_non_null(text);
	memset(text, '1', length);
	memcpy(text, "x\n", 2);
	assert_false(take_bytes(text, length, &asked));
	expect_problem(0, "standard input:2: the line is longer than 65534 bytes");
	for (size_t i = 2; i + 1 < length; i += 2)
		memcpy(text + i, "1\n", 2);
	text[2] = '"';
	assert_false(take_bytes(text, length, &asked));
	assert_int_equal(problems.count, 1);
	expect_problem(0, "standard input:2: quotes that do not end");
	free(text);
}

static void
line_ends_of_carriage_returns_alone_are_refused(void **state)
{
	(void)state;
	assert_false(take("x\r5\r6\r7\r", "x", false));
	assert_int_equal(problems.count, 1);
	expect_problem(0,
	    "standard input:1: has a carriage return within it: lines must "
	    "end with a line feed, alone or behind a carriage return");
	assert_false(take("x\n5\n6\r7\n", NULL, false));
	expect_problem(0,
	    "standard input:3: has a carriage return within it: lines must "
	    "end with a line feed, alone or behind a carriage return");
	assert_true(take("x,\"a\r\nb\"\r\n5,\"c\r\nd\"\r\r\n6,\r", "x", false));
	EXPECT(5, 6);
}

static void
control_characters_are_neither_names_nor_shown(void **state)
{
	const struct csv_table_asked asked = {
	    .column = {"part", "who", "mm"}, .column_count = 3};
	static const char labels[] = "part,who,mm\na,\x1b[31mBo,1\n";

	(void)state;
	/* a line feed or tab in quotes is a blank of the name */
	assert_true(take("t,\"exit\n\ttop\"\n1,2\n", "exit  top", false));
	EXPECT(2);
	assert_string_equal(table.title, "exit  top");
	assert_false(take("\x1b[31mx\n1\n", NULL, false));
	expect_problem(0,
	    "standard input:1: the name of column 1 has a control character "
	    "in it (byte 0x1b)");
	assert_false(take("t,a\x7f\n1,2\n", "t", false));
	expect_problem(0,
	    "standard input:1: the name of column 2 has a control character "
	    "in it (byte 0x7f)");
	assert_false(take("x\n\x1b[31m5\n", NULL, false));
	expect_problem(0,
	    "standard input:2: 'x' is '?[31m5', must be a finite number, or "
	    "empty or 'nan' where there is none");
	assert_false(take_bytes(labels, sizeof labels - 1, &asked));
	expect_problem(0, "standard input:2: 'who' has a control character in it (byte "
			  "0x1b)");
}

static void
quoted_decimal_commas_leave_the_comma_as_separator(void **state)
{
	(void)state;
	assert_true(take("t,x\n0,\"1,5\"\n1,7\n2,\n", "x", true));
	EXPECT(1.5, 7, NAN);
	assert_true(take("\"t\",\"x\"\n\"0,1\",\"1,5\"\n", "t", true));
	EXPECT(0.1);
	assert_true(take("t,x\n0,7\n1,\"1,5\"\n", "x", true));
	EXPECT(7, 1.5);
	/* one without quotes has a cell too many, and is never read as another number */
	assert_false(take("t,x\n0,7\n0,1,5\n", "x", true));
	expect_problem(0, "standard input:3: 3 cells, must be 2 as the header has");
	/* what else parts the columns goes first */
	assert_true(take("a, b, c;x\n1,5;2,5\n", "x", true));
	EXPECT(2.5);
	assert_true(take("x, top\n1,5\n", "x, top", true));
	EXPECT(1.5);
}

static void
a_separator_at_the_end_of_a_line_is_told(void **state)
{
	(void)state;
	assert_false(take("x\n1,\n", "x", false));
	expect_problem(0,
	    "standard input:2: 'x' is '1,', must be a finite number, or empty "
	    "or 'nan' where there is none; the line ends with a separator");
	assert_false(take("x;y\n1;2;\n", "x", false));
	expect_problem(0, "standard input:2: 3 cells, must be 2 as the header has; the "
			  "line ends with a separator");
	assert_false(take("x,\n1\n", "x", false));
	expect_problem(0,
	    "standard input:2: 1 cell, must be 2 as the header has, which "
	    "ends with a separator");
	assert_false(take("x,\n1,\n", NULL, false));
	expect_problem(0,
	    "standard input:1: there are 2 columns, the last without a name "
	    "since the line ends with a separator: say which with "
	    "--column; it has x, ");
	assert_true(take("x,\n1,\n", "x", false));
	EXPECT(1);
}

static void
values_below_zero_are_refused_where_they_cannot_be(void **state)
{
	const struct csv_table_asked asked = {
	    .column = {"x"}, .column_count = 1, .bounded_at_zero = true};
	static const char text[] = "x\n1\n-0.5\n0\n-0\nnan\n-nan\n-1e-300\n";

	(void)state;
	assert_false(take_bytes(text, sizeof text - 1, &asked));
	assert_int_equal(problems.count, 2);
	expect_problem(0, "standard input:3: 'x' is '-0.5', is below zero, but "
			  "--zero-bounded says that cannot be");
	expect_problem(1, "standard input:8: 'x' is '-1e-300', is below zero, but "
			  "--zero-bounded says that cannot be");
}

static void
a_name_that_is_too_long_ends_with_an_ellipsis(void **state)
{
	char text[600];

	(void)state;
	for (int shift = 0; shift < 2; shift++) {
		size_t at = 0;
		if (shift)
			text[at++] = 'x';
		while (at < 500) { /* an umlaut of two bytes */
			text[at++] = '\xc3';
			text[at++] = '\xa4';
		}
		strcpy(text + at, "\n1\n2\n");
		assert_true(take(text, NULL, false));
		size_t length = strlen(table.title);
		assert_true(length > 190 && length < sizeof table.title);
		assert_string_equal(table.title + length - 5, "\xc3\xa4"
							      "\xe2\x80\xa6");
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_parts_the_columns_is_found),
	    cmocka_unit_test(a_name_that_is_too_long_ends_with_an_ellipsis),
	    cmocka_unit_test(decimal_commas_are_read_where_said),
	    cmocka_unit_test(missing_values_keep_their_place),
	    cmocka_unit_test(files_are_read_as_programs_write_them),
	    cmocka_unit_test(what_is_no_number_is_refused_with_its_line),
	    cmocka_unit_test(every_mistake_is_told_and_lines_in_quotes_are_counted),
	    cmocka_unit_test(mistakes_of_one_kind_are_told_five_times_and_counted),
	    cmocka_unit_test(headers_that_do_not_do_are_told),
	    cmocka_unit_test(labels_are_numbered_as_they_come_up),
	    cmocka_unit_test(as_many_labels_as_may_be_are_told_apart),
	    cmocka_unit_test(numbers_are_the_nearest_doubles),
	    cmocka_unit_test(line_ends_of_carriage_returns_alone_are_refused),
	    cmocka_unit_test(control_characters_are_neither_names_nor_shown),
	    cmocka_unit_test(quoted_decimal_commas_leave_the_comma_as_separator),
	    cmocka_unit_test(a_separator_at_the_end_of_a_line_is_told),
	    cmocka_unit_test(values_below_zero_are_refused_where_they_cannot_be),
	    cmocka_unit_test(
		a_line_that_is_too_long_and_quotes_that_never_end_are_told),
	};

	int failed = cmocka_run_group_tests(tests, NULL, NULL);
	csv_table_release(&table);
	return failed;
}
