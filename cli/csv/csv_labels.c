/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "cli/csv/csv_reading.h"

enum { ROOM_AT_FIRST = 16, INDEX = 2 * CSV_TABLE_LABELS };

static void
complain_of_label(struct table_reading *reading, size_t w, const char *cell)
{
	const char *column = reading->asked->column[w];

	if (*cell == '\0')
		csv_file_complain(
		    &reading->file, reading->file.line, "there is no '%s'", column);
	for (const char *at = cell; *at; at++)
		if (csv_is_control(*at)) {
			csv_file_complain(&reading->file, reading->file.line,
			    "'%s' has a control character in it (byte 0x%02x)", column,
			    (unsigned char)*at);
			return;
		}
}

static bool
make_room(struct table_reading *reading, size_t w)
{
	struct csv_table *table = reading->table;
	size_t count = table->name_count[w];

	if (!reading->indexed[w] && !hcreate_r(INDEX, &reading->index[w]))
		return csv_table_lose_memory(reading);
	reading->indexed[w] = true;
	if (count < reading->name_room[w])
		return true;
	size_t room = count ? count * 2 : ROOM_AT_FIRST;
	char **names = realloc(table->names[w], room * sizeof *names);
	if (!names)
		return csv_table_lose_memory(reading);
	table->names[w] = names;
	reading->name_room[w] = room;
	return true;
}

/* A name that is seen for the first time. */
static bool
add_label(struct table_reading *reading, size_t w, const char *cell)
{
	struct csv_table *table = reading->table;
	size_t *count = &table->name_count[w];
	ENTRY *entry;

	complain_of_label(reading, w, cell);
	if (*count == CSV_TABLE_LABELS) {
		csv_file_complain(&reading->file, reading->file.line,
		    "'%s' has more than %d different entries",
		    reading->asked->column[w], CSV_TABLE_LABELS);
		return false;
	}
	if (!make_room(reading, w))
		return false;
	char *name = strdup(cell);
	if (!name)
		return csv_table_lose_memory(reading);
	table->names[w][*count] = name;
	table->label[w][table->count] = (unsigned)*count;
	/* NOLINTNEXTLINE(performance-no-int-to-ptr) */
	const ENTRY added = {.key = name, .data = (void *)(uintptr_t)(*count)++};
	return hsearch_r(added, ENTER, &entry, &reading->index[w]) != 0 ||
	       csv_table_lose_memory(reading);
}

bool
csv_labels_read(struct table_reading *reading, size_t w)
{
	struct csv_table *table = reading->table;
	const unsigned before =
	    table->count > 0 ? table->label[w][table->count - 1] : 0;
	char *cell = reading->field[reading->place[w]];
	ENTRY *found;

	/* rows of one stand together */
	if (table->count > 0 && strcmp(table->names[w][before], cell) == 0) {
		table->label[w][table->count] = before;
		return true;
	}
	if (!reading->indexed[w] ||
	    !hsearch_r((ENTRY){.key = cell}, FIND, &found, &reading->index[w]))
		return add_label(reading, w, cell);
	table->label[w][table->count] = (unsigned)(uintptr_t)found->data;
	return true;
}

void
csv_labels_close(struct table_reading *reading)
{
	for (size_t w = 0; w < CSV_TABLE_COLUMNS - 1; w++)
		if (reading->indexed[w])
			hdestroy_r(&reading->index[w]);
}
