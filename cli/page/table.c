/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/table.h"

void
table_init(struct table *table)
{
	*table = (struct table){0};
	grid_init(&table->grid);
}

void
table_release(struct table *table)
{
	grid_release(&table->grid);
}

void
table_start(struct table *table, const char *heading, const struct column *columns,
    size_t count)
{
	struct grid *grid = &table->grid;

	table->columns = columns;
	table->heading = heading;
	grid_start(grid, count);
	for (size_t i = 0; i < count; i++) {
		struct cell title =
		    cell_words(columns[i].title ? columns[i].title : "");
		title.tone = TONE_FAINT;
		grid_add(grid, &title);
		grid->columns[i].each = i == 0 || columns[i].block == COLUMN_EACH;
		if (!grid->columns[i].each)
			grid->columns[i].block = columns[i].block;
	}
}

static bool
is_for_people(const struct table *table)
{
	for (size_t i = 0; i < table->grid.column_count; i++)
		if (table->columns[i].title)
			return true;
	return false;
}

void
table_row(struct table *table, const struct cell *cells)
{
	static const struct cell nothing = {.kind = CELL_WORDS, .words = ""};

	if (!is_for_people(table))
		return; /* there may be very many */
	for (size_t i = 0; i < table->grid.column_count; i++)
		grid_add(&table->grid, table->columns[i].title ? &cells[i] : &nothing);
}

void
table_across(struct table *table, enum page_tone tone, const char *sentence)
{
	struct cell cell = cell_words(sentence);

	cell.tone = tone;
	grid_add_across(&table->grid, &cell);
}

bool
table_end(struct table *table)
{
	struct grid *grid = &table->grid;

	if (grid->failed || grid->count <= grid->column_count || !is_for_people(table))
		return false;
	grid_lay_out(grid, 1);
	return true;
}
