/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Files of the user's: whatever they are, they are refused with sentences, or finite numbers
 * and labels that can be shown come out, no more than there are lines.
 *
 * Input: what is asked for (bits: decimal commas, bounded at zero, a column by its name, three
 * columns, columns of numbers too); the file.
 */
#include "tests/fuzz/target.h"

#include <math.h>

#include "cli/csv/csv_column.h"
#include "cli/csv/csv_file.h"
#include "cli/csv/csv_table.h"
#include "conf/settings.h"

enum {
	DECIMAL_COMMA = 1,
	BOUNDED = 2,
	NAMED = 4,
	LABELLED = 8,
	NUMBERS = 16,
};

static struct problems problems;

static FILE *
open_bytes(const struct input *input)
{
	FILE *in = input->left > 0
	               ? fmemopen((void *)(uintptr_t)input->at, input->left, "r")
	               : fopen("/dev/null", "r");

	MUST(in != NULL);
	return in;
}

static size_t
count_lines(const struct input *input)
{
	size_t lines = 1;

	for (size_t i = 0; i < input->left; i++)
		lines += input->at[i] == '\n';
	return lines;
}

static bool
has_byte(const struct input *input, uint8_t byte)
{
	return input->left > 0 && memchr(input->at, byte, input->left) != NULL;
}

static void
check_problems(const struct input *input)
{
	size_t kept =
	    problems.count < SETTINGS_PROBLEMS ? problems.count : SETTINGS_PROBLEMS;

	for (size_t i = 0; i < kept; i++) {
		MUST(is_sentence(problems.list[i].text, sizeof problems.list[i].text));
		MUST(problems.list[i].line >= 0);
		MUST((size_t)problems.list[i].line <= count_lines(input));
	}
}

static void
check_table(const struct csv_table *table, const struct csv_table_asked *asked,
    const struct input *input)
{
	MUST(table->count + table->empty_at_end < count_lines(input) + 1);
	MUST(is_sentence(table->title, sizeof table->title) || !*table->title);
	for (size_t i = 0; i < table->count; i++) {
		MUST(!isinf(table->values[i]));
		MUST(!(asked->bounded_at_zero && table->values[i] < 0));
	}
	for (size_t w = 0; w + 1 < asked->column_count; w++) {
		for (size_t i = 0; i < table->count; i++)
			MUST(table->label[w][i] < table->name_count[w]);
		for (size_t i = 0; i < table->name_count[w]; i++)
			MUST(is_sentence(table->names[w][i], CSV_LINE));
	}
}

static void
read_table(const struct input *input, unsigned which)
{
	struct csv_table table;
	struct csv_table_asked asked = {
	    .column = {which & NAMED ? "x" : NULL},
	    .column_count = 1,
	    .decimal_comma = which & DECIMAL_COMMA,
	    .bounded_at_zero = which & BOUNDED,
	};

	if (which & LABELLED) {
		asked.column[0] = "part";
		asked.column[1] = "who";
		asked.column[2] = "x";
		asked.column_count = 3;
	}
	FILE *in = open_bytes(input);
	bool fine = csv_table_read(&table, "-", in, &asked, &problems);
	fclose(in);
	MUST(fine == (problems.count == 0));
	check_problems(input);
	if (fine) {
		MUST(!has_byte(input, '\0'));
		check_table(&table, &asked, input);
	} else {
		MUST(table.values == NULL && table.count == 0);
	}
	csv_table_release(&table);
}

static void
read_columns(const struct input *input)
{
	static const struct csv_wanted wanted[] = {
	    {.name = "x", .required = true, .filled = true, .ascending = true},
	    {.name = "who", .minimum = -1, .maximum = 1},
	};
	static struct csv_columns columns;
	FILE *in = open_bytes(input);
	bool fine = csv_columns_read(&columns, "-", in, wanted, 2, &problems);

	fclose(in);
	MUST(fine == (problems.count == 0));
	check_problems(input);
	for (size_t i = 0; fine && i < columns.count; i++) {
		MUST(isfinite(columns.values[0][i]));
		MUST(i == 0 || columns.values[0][i - 1] < columns.values[0][i]);
		MUST(!columns.values[1] || !(fabs(columns.values[1][i]) > 1));
	}
	csv_columns_release(&columns);
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	struct input input = {bytes, length};
	unsigned which = input_u8(&input);

	read_table(&input, which);
	if (which & NUMBERS)
		read_columns(&input);
	return 0;
}
