/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/influx.h"

#include <stdlib.h>
#include <string.h>

#include "cli/source/point.h"
#include "daemon/base/error.h"

enum { COLUMNS_MOST = 1024 };

/* Rows of one measurement: arrays with a value for each of the columns. */
struct series {
	const json_t *columns, *rows;
	size_t count; /* of rows */
};

/* The server's words, for a terminal. */
static int
refuse(const char *words, struct error *error)
{
	bool missing = strstr(words, "not found") != NULL;
	char line[300];

	text_copy(line, sizeof line, words);
	for (char *at = line; *at != '\0'; at++)
		if ((unsigned char)*at < ' ' || *at == 0x7f)
			*at = ' ';
	return error_set(
	    error, missing ? ERROR_NOT_FOUND : ERROR_REFUSED, "answers: %s", line);
}

static bool
is_sound(const struct series *series)
{
	for (size_t i = 0; i < series->count; i++)
		if (json_array_size(json_array_get(series->rows, i)) !=
		    json_array_size(series->columns))
			return false;
	return json_array_size(series->columns) <= COLUMNS_MOST;
}

typedef int take_series(
    struct answered *answered, const struct series *series, struct error *error);

static int
each_series(struct answered *answered, const json_t *document, take_series *take,
    struct error *error)
{
	const json_t *result = json_array_get(json_object_get(document, "results"), 0);
	const json_t *list = json_object_get(result, "series");
	const char *trouble = store_json_text(document, "error");

	if (*trouble == '\0')
		trouble = store_json_text(result, "error");
	if (*trouble != '\0')
		return refuse(trouble, error);
	if (!json_is_object(result))
		return store_not_understood(error);
	answered->is_partial = json_is_true(json_object_get(result, "partial"));
	for (size_t i = 0; i < json_array_size(list); i++) {
		const json_t *one = json_array_get(list, i);
		struct series series = {
		    .columns = json_object_get(one, "columns"),
		    .rows = json_object_get(one, "values"),
		};
		series.count = json_array_size(series.rows);
		int code = is_sound(&series) ? take(answered, &series, error)
		                             : store_not_understood(error);
		if (code != 0)
			return code;
	}
	return 0;
}

/* The index of a column, -1 when there is none. */
static int
find_column(const struct series *series, const char *name)
{
	for (size_t i = 0; i < json_array_size(series->columns); i++) {
		const char *column =
		    json_string_value(json_array_get(series->columns, i));
		if (column != NULL && strcmp(column, name) == 0)
			return (int)i;
	}
	return -1;
}

/* Of a column that there is not: NULL. */
static const json_t *
cell(const struct series *series, size_t row, int column)
{
	return column < 0
	           ? NULL
	           : json_array_get(json_array_get(series->rows, row), (size_t)column);
}

static const char *
cell_text(const struct series *series, size_t row, int column)
{
	const char *text = json_string_value(cell(series, row, column));

	return text != NULL ? text : "";
}

/* --- shots --------------------------------------------------------------------------- */

/* What tells which shot a row is of. */
struct key_columns {
	int time, line, revision;
};

static bool
find_key(const struct series *series, struct key_columns *key)
{
	key->time = find_column(series, "time");
	key->line = find_column(series, point_name(POINT_LINE));
	key->revision = find_column(series, point_name(POINT_REVISION));
	return key->time >= 0 && key->line >= 0 && key->revision >= 0;
}

static struct harvest_row *
find_row(struct answered *answered, const struct series *series, size_t row,
    const struct key_columns *key, int *code)
{
	const char *revision = cell_text(series, row, key->revision);

	return harvest_row(&answered->harvest, cell_text(series, row, key->line),
	    json_integer_value(cell(series, row, key->time)),
	    strtoll(revision, NULL, 10), code);
}

static void
fill(struct harvest_row *row, const short *fields, const json_t *values)
{
	for (size_t i = 0; i < json_array_size(values); i++) {
		const json_t *value = json_array_get(values, i);
		const char *text = json_string_value(value);

		if (fields[i] == POINT_UNKNOWN)
			continue;
		if (json_is_number(value))
			point_set_number(&row->shot, fields[i], row->point_ns,
			    json_number_value(value));
		else if (text != NULL && fields[i] == POINT_SET_UP)
			text_copy(row->set_up, sizeof row->set_up, text);
		else if (text != NULL)
			point_set_text(&row->shot, fields[i], text);
	}
}

static int
take_shots(struct answered *answered, const struct series *series, struct error *error)
{
	short fields[COLUMNS_MOST] = {0};
	struct key_columns key;
	int code, filed = find_column(series, point_name(POINT_FILED_US));

	if (!find_key(series, &key))
		return store_not_understood(error);
	for (size_t i = 0; i < json_array_size(series->columns); i++) {
		const char *name =
		    json_string_value(json_array_get(series->columns, i));
		fields[i] = name != NULL ? (short)point_find(name) : POINT_UNKNOWN;
	}
	for (size_t i = 0; i < series->count; i++) {
		/* else only a mark, of a revision that never came here */
		if (!json_is_number(cell(series, i, filed)))
			continue;
		struct harvest_row *row = find_row(answered, series, i, &key, &code);
		if (row == NULL)
			return answered_failed(code, error);
		fill(row, fields, json_array_get(series->rows, i));
	}
	return 0;
}

static int
take_absences(
    struct answered *answered, const struct series *series, struct error *error)
{
	int feature = find_column(series, point_name(POINT_FEATURE));
	int reason = find_column(series, point_name(POINT_REASON));
	struct key_columns key;
	int code;

	if (!find_key(series, &key) || feature < 0 || reason < 0)
		return store_not_understood(error);
	for (size_t i = 0; i < series->count; i++) {
		struct harvest_row *row = find_row(answered, series, i, &key, &code);
		if (row == NULL)
			return answered_failed(code, error);
		point_set_absent(&row->shot, cell_text(series, i, feature),
		    cell_text(series, i, reason));
	}
	return 0;
}

/* --- the others ------------------------------------------------------------------------ */

static int
take_edge(struct answered *answered, const struct series *series, struct error *error)
{
	int time = find_column(series, "time");

	for (size_t i = 0; i < series->count; i++) {
		if (!json_is_integer(cell(series, i, time)))
			return store_not_understood(error);
		answered->edge_s =
		    json_integer_value(cell(series, i, time)) / CLOCK_SECOND_NS;
	}
	return 0;
}

static int
take_amount(struct answered *answered, const struct series *series, struct error *error)
{
	int count = find_column(series, "count");

	for (size_t i = 0; i < series->count; i++) {
		if (!json_is_integer(cell(series, i, count)))
			return store_not_understood(error);
		answered->amount += json_integer_value(cell(series, i, count));
	}
	return 0;
}

static int
take_lines(struct answered *answered, const struct series *series, struct error *error)
{
	int value = find_column(series, "value");

	for (size_t i = 0; i < series->count; i++) {
		int code = answered_add_line(answered, cell_text(series, i, value));
		if (code != 0)
			return answered_failed(code, error);
	}
	return 0;
}

static int
take_events(struct answered *answered, const struct series *series, struct error *error)
{
	int time = find_column(series, "time"), line = find_column(series, "line"),
	    kind = find_column(series, "kind"), text = find_column(series, "text"),
	    us = find_column(series, "at_us"), code;

	for (size_t i = 0; i < series->count; i++) {
		struct answered_event *event = answered_add_event(answered, &code);
		if (event == NULL)
			return answered_failed(code, error);
		answered_set_event(event, json_integer_value(cell(series, i, time)),
		    json_number_value(cell(series, i, us)));
		text_copy(event->event.line, LEDGER_NAME,
		    point_tag(cell_text(series, i, line)));
		text_copy(event->event.kind, LEDGER_NAME, cell_text(series, i, kind));
		text_copy(event->event.text, sizeof event->event.text,
		    cell_text(series, i, text));
	}
	return 0;
}

static int
take_shifts(struct answered *answered, const struct series *series, struct error *error)
{
	int time = find_column(series, "time"), line = find_column(series, "line"),
	    shift = find_column(series, "shift"),
	    revision = find_column(series, "revision");

	for (size_t i = 0; i < series->count; i++) {
		int code = answered_add_shift(answered,
		    json_integer_value(cell(series, i, time)),
		    cell_text(series, i, line), cell_text(series, i, shift),
		    cell_text(series, i, revision));
		if (code != 0)
			return answered_failed(code, error);
	}
	return 0;
}

static int
take_channels(
    struct answered *answered, const struct series *series, struct error *error)
{
	int name = find_column(series, "channel"), role = find_column(series, "role");
	int code;

	for (size_t i = 0; i < series->count; i++) {
		struct ledger_channel *channel =
		    answered_channel(answered, cell_text(series, i, name), &code);
		if (channel == NULL)
			return answered_failed(code, error);
		text_copy(channel->role, LEDGER_NAME, cell_text(series, i, role));
		for (size_t k = 0; k < json_array_size(series->columns); k++) {
			const char *field =
			    json_string_value(json_array_get(series->columns, k));
			const json_t *value = cell(series, i, (int)k);
			if (field != NULL && json_is_number(value))
				answered_set_channel(
				    channel, field, json_number_value(value));
		}
	}
	return 0;
}

int
influx_take_shots(void *answered, const json_t *document, struct error *error)
{
	return each_series(answered, document, take_shots, error);
}

int
influx_take_absences(void *answered, const json_t *document, struct error *error)
{
	return each_series(answered, document, take_absences, error);
}

int
influx_take_edge(void *answered, const json_t *document, struct error *error)
{
	return each_series(answered, document, take_edge, error);
}

int
influx_take_amount(void *answered, const json_t *document, struct error *error)
{
	return each_series(answered, document, take_amount, error);
}

int
influx_take_lines(void *answered, const json_t *document, struct error *error)
{
	return each_series(answered, document, take_lines, error);
}

int
influx_take_shifts(void *answered, const json_t *document, struct error *error)
{
	return each_series(answered, document, take_shifts, error);
}

int
influx_take_events(void *answered, const json_t *document, struct error *error)
{
	return each_series(answered, document, take_events, error);
}

int
influx_take_channels(void *answered, const json_t *document, struct error *error)
{
	return each_series(answered, document, take_channels, error);
}
