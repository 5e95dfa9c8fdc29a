/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/html.h"

#include <string.h>

enum {
	LONG_WORDS = 28, /* characters: wider columns are wrapped */
	SHORT_ROWS = 14, /* a table of no more is not parted on paper */
	/* how wide columns are on a narrow screen, at most, and such a screen; characters */
	NARROW_FIRST = 15,
	NARROW_WORDS = 24,
	NARROW_NUMBERS = 17,
	NARROW_GAP = 2,
	NARROW_SCREEN = 51,
};

struct sheet {
	FILE *out;
	const struct table *table;
	size_t *number;
};

/* A long one may be broken after an underscore. */
static void
put_name(FILE *out, const char *name)
{
	char part[64];

	while (*name) {
		size_t length = strcspn(name, "_");
		length += name[length] == '_';
		if (length >= sizeof part)
			break;
		memcpy(part, name, length);
		part[length] = '\0';
		html_put_escaped(out, part);
		name += length;
		if (*name)
			fputs("<wbr/>", out);
	}
	html_put_escaped(out, name);
}

static void
put_cell(const struct sheet *of, size_t row, size_t column, const char *scope)
{
	const struct grid *grid = &of->table->grid;
	const struct grid_column *traits = &grid->columns[column];
	const char *words = grid_words(grid, row, column);
	const char *tone =
	    html_class(grid->cells[row * grid->column_count + column].tone);
	const char *kind = traits->right                ? "n"
	                   : traits->width > LONG_WORDS ? "w"
	                                                : NULL;
	const char *element = scope && *words ? "th" : "td";

	if (row == 0)
		tone = NULL; /* all titles look alike */
	fprintf(of->out, "<%s", element);
	if (scope && *words)
		fprintf(of->out, " scope=\"%s\"", scope);
	if (tone || kind)
		fprintf(of->out, " class=\"%s%s%s\"", kind ? kind : "",
		    kind && tone ? " " : "", tone ? tone : "");
	fputc('>', of->out);
	if (scope)
		put_name(of->out, words);
	else
		html_put_escaped(of->out, words);
	fprintf(of->out, "</%s>", element);
}

static void
put_across(const struct sheet *of, size_t row, int block)
{
	const struct grid *grid = &of->table->grid;
	const char *tone = html_class(grid->cells[row * grid->column_count].tone);
	int count = 0;

	for (size_t c = 0; c < grid->column_count; c++)
		count += grid_is_put(grid, c, block);
	fprintf(of->out, "<tr class=\"across\"><td colspan=\"%d\"", count);
	if (tone)
		fprintf(of->out, " class=\"%s\"", tone);
	fputc('>', of->out);
	html_put_escaped(of->out, grid_words(grid, row, 0));
	fputs("</td></tr>\n", of->out);
}

static void
put_row(const struct sheet *of, size_t row, int block)
{
	const struct grid *grid = &of->table->grid;
	const char *scope = row == 0 ? "col" : "row"; /* of the first cell */

	if (grid->cells[row * grid->column_count].across) {
		put_across(of, row, block);
		return;
	}
	fputs("<tr>", of->out);
	for (size_t c = 0; c < grid->column_count; c++) {
		if (!grid_is_put(grid, c, block))
			continue;
		put_cell(of, row, c, scope);
		if (row > 0)
			scope = NULL;
	}
	fputs("</tr>\n", of->out);
}

static size_t
count_rows(const struct grid *grid, int block)
{
	size_t count = 0;

	for (size_t row = 1; row < grid_rows(grid); row++)
		count += grid_is_row_put(grid, row, block);
	return count;
}

/* Of numbers: as wide as the widest, or as a word of the title. */
static int
numbers_width(const struct grid *grid, size_t column)
{
	const char *title = grid_words(grid, 0, column);
	size_t most = 0;

	for (; *title; title += strcspn(title, " "), title += strspn(title, " "))
		most = strcspn(title, " ") > most ? strcspn(title, " ") : most;
	for (size_t row = 1; row < grid_rows(grid); row++) {
		size_t length = strlen(grid_words(grid, row, column));
		if (!grid->cells[row * grid->column_count].across && length > most)
			most = length;
	}
	return (int)(most < NARROW_NUMBERS ? most : NARROW_NUMBERS);
}

/* Whether a narrow screen shows a part of it only. */
static bool
is_wide(const struct grid *grid, int block)
{
	bool first = true;
	int width = 0;

	for (size_t c = 0; c < grid->column_count; c++) {
		const struct grid_column *column = &grid->columns[c];
		int most = first                        ? NARROW_FIRST
		           : column->width > LONG_WORDS ? NARROW_WORDS
		                                        : LONG_WORDS;
		if (!grid_is_put(grid, c, block))
			continue;
		first = false;
		width += NARROW_GAP;
		if (column->right)
			width += numbers_width(grid, c);
		else
			width += column->width < most ? column->width : most;
	}
	return width > NARROW_SCREEN;
}

/* A table that is wider than the window is scrolled, by the keyboard too. */
static void
begin_table(const struct sheet *of, int block)
{
	const char *heading = of->table->heading;
	bool is_short = count_rows(&of->table->grid, block) <= SHORT_ROWS;

	(*of->number)++;
	fprintf(of->out, "<div class=\"table%s%s\" tabindex=\"0\"",
	    is_short ? " short" : "", is_wide(&of->table->grid, block) ? " wide" : "");
	if (!heading) {
		fputs("><table>\n", of->out);
		return;
	}
	fprintf(of->out,
	    " role=\"region\" aria-labelledby=\"t%zu\"><table>\n<caption id=\"t%zu\">",
	    *of->number, *of->number);
	html_put_escaped(of->out, heading);
	fputs(block > 0 ? ", continued</caption>\n" : "</caption>\n", of->out);
}

static bool
has_columns(const struct grid *grid, int block)
{
	for (size_t c = 0; c < grid->column_count; c++)
		if (grid->columns[c].shown && grid->columns[c].block == block)
			return true;
	return false;
}

static void
put_block(const struct sheet *of, int block)
{
	const struct grid *grid = &of->table->grid;

	if (!has_columns(grid, block))
		return;
	begin_table(of, block);
	fputs("<thead>", of->out);
	put_row(of, 0, block);
	fputs("</thead>\n<tbody>\n", of->out);
	for (size_t row = 1; row < grid_rows(grid); row++)
		if (grid_is_row_put(grid, row, block))
			put_row(of, row, block);
	fputs("</tbody></table></div>\n", of->out);
}

void
html_put_table(FILE *out, const struct table *table, size_t *number)
{
	const struct sheet of = {out, table, number};
	const struct grid *grid = &table->grid;
	int last = 0;

	for (size_t c = 0; c < grid->column_count; c++)
		if (grid->columns[c].block > last)
			last = grid->columns[c].block;
	for (int block = 0; block <= last; block++)
		put_block(&of, block);
}
