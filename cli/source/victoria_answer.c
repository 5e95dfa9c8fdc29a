/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/victoria.h"

#include <stdlib.h>
#include <string.h>

#include "cli/source/point.h"
#include "daemon/base/error.h"

/* One series: labels, and values with their times in milliseconds. */
struct series {
	const json_t *labels, *values, *times;
	const char *name; /* "shot_exit_top_c" */
	size_t count;
};

static int
read_series(const json_t *document, struct series *series, struct error *error)
{
	*series = (struct series){
	    .labels = json_object_get(document, "metric"),
	    .values = json_object_get(document, "values"),
	    .times = json_object_get(document, "timestamps"),
	};
	series->name = store_json_text(series->labels, "__name__");
	series->count = json_array_size(series->values);
	return json_is_array(series->values) &&
	               json_array_size(series->times) == series->count &&
	               *series->name != '\0'
	           ? 0
	           : store_not_understood(error);
}

static double
value_at(const struct series *series, size_t i)
{
	return json_number_value(json_array_get(series->values, i));
}

static int64_t
point_ns_at(const struct series *series, size_t i)
{
	int64_t ms = json_integer_value(json_array_get(series->times, i)), ns;

	return __builtin_mul_overflow(ms, INT64_C(1000000), &ns) ? 0 : ns;
}

/* --- shots ---------------------------------------------------------------------------- */

static void
set_texts(struct harvest_row *row, const struct series *series)
{
	for (int field = POINT_RECIPE; field < POINT_SHOT_NO; field++) {
		const char *text = json_string_value(
		    json_object_get(series->labels, point_name(field)));
		if (text != NULL && field == POINT_SET_UP)
			text_copy(row->set_up, sizeof row->set_up, text);
		else if (text != NULL)
			point_set_text(&row->shot, field, text);
	}
}

/* Of the points of an absence POINT_REASON is not the shot's. */
static void
set_value(struct harvest_row *row, const struct series *series, int field, double value)
{
	if (strcmp(series->name, "shot_absent_shot_no") == 0) {
		point_set_absent(&row->shot, store_json_text(series->labels, "feature"),
		    store_json_text(series->labels, "reason"));
		return;
	}
	if (strcmp(series->name, "shot_words_shot_no") == 0) {
		set_texts(row, series);
		return;
	}
	if (field == POINT_FILED_US)
		set_texts(row, series);
	if (field >= POINT_SHOT_NO)
		point_set_number(&row->shot, field, row->point_ns, value);
}

int
victoria_take_shots(void *arg, const json_t *document, struct error *error)
{
	static const char prefix[] = "shot_";
	struct answered *answered = arg;
	struct series series;
	int code = read_series(document, &series, error);

	if (code != 0)
		return code;
	if (strncmp(series.name, prefix, sizeof prefix - 1) != 0)
		return store_not_understood(error);
	int field = point_find(series.name + sizeof prefix - 1);
	const char *line = store_json_text(series.labels, "line");
	int64_t revision =
	    strtoll(store_json_text(series.labels, "revision"), NULL, 10);
	for (size_t i = 0; i < series.count; i++) {
		struct harvest_row *row = harvest_row(
		    &answered->harvest, line, point_ns_at(&series, i), revision, &code);
		if (row == NULL)
			return answered_failed(code, error);
		answered->twice += field == POINT_FILED_US && i > 0 &&
		                   row->point_ns == point_ns_at(&series, i - 1);
		set_value(row, &series, field, value_at(&series, i));
	}
	return 0;
}

/* --- the others ------------------------------------------------------------------------ */

/* The one number of a query, 0 when it found nothing. */
static int
read_number(const json_t *document, double *number, struct error *error)
{
	const json_t *result =
	    json_object_get(json_object_get(document, "data"), "result");
	const json_t *one = json_object_get(json_array_get(result, 0), "value");
	const char *text = json_string_value(json_array_get(one, 1));

	*number = 0;
	if (!json_is_array(result))
		return store_not_understood(error);
	if (json_array_size(result) == 0)
		return 0;
	if (text == NULL || !text_number(text, number) || *number < 0 || *number > 9e9)
		return store_not_understood(error);
	return 0;
}

int
victoria_take_edge(void *arg, const json_t *document, struct error *error)
{
	struct answered *answered = arg;
	double s;
	int code = read_number(document, &s, error);

	if (code == 0)
		answered->edge_s = (int64_t)s;
	return code;
}

int
victoria_take_amount(void *arg, const json_t *document, struct error *error)
{
	struct answered *answered = arg;
	double count;
	int code = read_number(document, &count, error);

	if (code == 0)
		answered->amount = (int64_t)count;
	return code;
}

int
victoria_take_lines(void *arg, const json_t *document, struct error *error)
{
	struct answered *answered = arg;
	const json_t *data = json_object_get(document, "data");

	if (!json_is_array(data))
		return store_not_understood(error);
	for (size_t i = 0; i < json_array_size(data); i++) {
		const char *line = json_string_value(json_array_get(data, i));
		int code = line != NULL ? answered_add_line(answered, line) : 0;
		if (code != 0)
			return answered_failed(code, error);
	}
	return 0;
}

int
victoria_take_events(void *arg, const json_t *document, struct error *error)
{
	struct answered *answered = arg;
	struct series series;
	int code = read_series(document, &series, error);

	if (code != 0)
		return code;
	for (size_t i = 0; i < series.count; i++) {
		struct answered_event *event = answered_add_event(answered, &code);
		if (event == NULL)
			return answered_failed(code, error);
		answered_set_event(
		    event, point_ns_at(&series, i), value_at(&series, i));
		text_copy(event->event.line, LEDGER_NAME,
		    point_tag(store_json_text(series.labels, "line")));
		text_copy(event->event.kind, LEDGER_NAME,
		    store_json_text(series.labels, "kind"));
	}
	return 0;
}

int
victoria_take_shifts(void *arg, const json_t *document, struct error *error)
{
	struct answered *answered = arg;
	struct series series;
	int code = read_series(document, &series, error);

	if (code != 0)
		return code;
	for (size_t i = 0; i < series.count; i++) {
		code = answered_add_shift(answered, point_ns_at(&series, i),
		    store_json_text(series.labels, "line"),
		    store_json_text(series.labels, "shift"),
		    store_json_text(series.labels, "revision"));
		if (code != 0)
			return answered_failed(code, error);
	}
	return 0;
}

int
victoria_take_channels(void *arg, const json_t *document, struct error *error)
{
	static const char prefix[] = "shot_channel_";
	struct answered *answered = arg;
	struct series series;
	int code = read_series(document, &series, error);

	if (code != 0)
		return code;
	if (strncmp(series.name, prefix, sizeof prefix - 1) != 0)
		return store_not_understood(error);
	/* all that were in the second are in the answer */
	bool is_there = false;
	for (size_t i = 0; i < series.count; i++)
		is_there |= point_ns_at(&series, i) == answered->point_ns;
	if (!is_there)
		return 0;
	struct ledger_channel *channel = answered_channel(
	    answered, store_json_text(series.labels, "channel"), &code);
	if (channel == NULL)
		return answered_failed(code, error);
	text_copy(channel->role, LEDGER_NAME, store_json_text(series.labels, "role"));
	for (size_t i = 0; i < series.count; i++)
		if (point_ns_at(&series, i) == answered->point_ns)
			answered_set_channel(channel, series.name + sizeof prefix - 1,
			    value_at(&series, i));
	return 0;
}
