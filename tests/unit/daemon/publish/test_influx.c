/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Delivery to a real InfluxDB, read back and compared with the ledger bit for bit. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "daemon/publish/delivery.h"
#include "tests/unit/daemon/publish/filled_ledger.h"
#include "tests/unit/daemon/publish/real_influx.h"

enum { SHOTS = 500, COLUMNS = 256 };

/* --- what was read back: CSV (RFC 4180), cut up in place --------------------------- */

struct table {
	char *text;
	const char *names[COLUMNS];
	size_t columns, rows;
	const char **cells; /* row after row */
};

/* Cuts one field off; `*last` when its line ends behind it. */
static const char *
cut_field(char **rest, bool *last)
{
	char *from = *rest, *to, *c;

	if (*from == '"') {
		for (to = from, c = from + 1; !(*c == '"' && c[1] != '"'); c++) {
			c += *c == '"';
			*to++ = *c;
		}
		c++;
	} else {
		c = to = from + strcspn(from, ",\n");
	}
	*last = *c != ',';
	*rest = *c == '\0' ? c : c + 1;
	*to = '\0';
	return from;
}

static struct table
read_table(struct real_influx *influx, const char *query)
{
	struct table table = {.text = influx_query(influx, query)};
	char *rest = table.text;
	size_t room = 0;
	bool last = false;

	while (!last) {
		assert_true(table.columns < COLUMNS);
		table.names[table.columns++] = cut_field(&rest, &last);
	}
	while (*rest != '\0') {
		if (table.rows == room) {
			room = room == 0 ? 64 : 2 * room;
			table.cells = realloc(
			    table.cells, room * table.columns * sizeof(*table.cells));
			assert_non_null(table.cells);
		}
		for (size_t i = 0; i < table.columns; i++) {
			table.cells[table.rows * table.columns + i] =
			    cut_field(&rest, &last);
			assert_int_equal(last, i + 1 == table.columns);
		}
		table.rows++;
	}
	return table;
}

static void
release_table(struct table *table)
{
	free(table->text);
	free(table->cells);
}

/* "" when the table has no such column, as for a field that no point has. */
static const char *
cell(const struct table *table, size_t row, const char *name)
{
	for (size_t i = 0; i < table->columns; i++)
		if (strcmp(table->names[i], name) == 0)
			return table->cells[row * table->columns + i];
	return "";
}

static int64_t
cell_integer(const struct table *table, size_t row, const char *name)
{
	int64_t value = INT64_MIN;
	assert_true(text_integer(cell(table, row, name), &value));
	return value;
}

/* Rows come in order of time: the first at `ns`. */
static size_t
find_time(const struct table *table, int64_t ns)
{
	size_t low = 0, high = table->rows;

	while (low < high) {
		size_t middle = (low + high) / 2;
		if (cell_integer(table, middle, "time") < ns)
			low = middle + 1;
		else
			high = middle;
	}
	return low;
}

static void
assert_number(const struct table *table, size_t row, const char *name, double expected)
{
	const char *text = cell(table, row, name);
	double value;

	if (!isfinite(expected)) {
		assert_string_equal(text, "");
		return;
	}
	assert_true(text_number(text, &value));
	assert_memory_equal(&value, &expected, sizeof(value));
}

/* --- the comparison ------------------------------------------------------------------ */

struct comparison {
	struct ledger_read *read;
	const struct ledger_shot *shot;
	struct table shots, channels;
	size_t channel_points, absent_points; /* that the ledger says there must be */
};

static int64_t
point_ns(const struct ledger_shot *shot)
{
	return shot->filed_at.ns / 1000000000 * 1000000000 +
	       shot->shot_no % 1000 * 1000000;
}

static const char *
or_unknown(const char *tag)
{
	return tag[0] != '\0' ? tag : "unknown";
}

static int
compare_channel(void *arg, const struct ledger_channel *channel)
{
	struct comparison *comparison = arg;
	const struct table *table = &comparison->channels;
	int64_t ns = point_ns(comparison->shot);
	char name[2 * LEDGER_NAME];
	size_t row = find_time(table, ns);

	snprintf(name, sizeof(name), "%s.%s", channel->device, channel->channel);
	while (row < table->rows && cell_integer(table, row, "time") == ns &&
	       strcmp(cell(table, row, "channel"), name) != 0)
		row++;
	assert_true(row < table->rows);
	assert_int_equal(cell_integer(table, row, "time"), ns);
	assert_string_equal(cell(table, row, "role"), channel->role);
	assert_string_equal(cell(table, row, "line"), comparison->shot->line);
	assert_int_equal(
	    cell_integer(table, row, "shot_no"), comparison->shot->shot_no);
	assert_int_equal(
	    cell_integer(table, row, "revision"), comparison->shot->revision);
	assert_int_equal(cell_integer(table, row, "current"), 1);
	assert_number(table, row, "min", channel->min);
	assert_number(table, row, "mean", channel->mean);
	assert_number(table, row, "max", channel->max);
	assert_number(table, row, "sd", channel->sd);
	assert_number(table, row, "last", channel->last);
	assert_number(table, row, "coverage", channel->coverage);
	comparison->channel_points++;
	return 0;
}

static int
compare_shot(void *arg, const struct ledger_shot *shot)
{
	struct comparison *comparison = arg;
	const struct table *table = &comparison->shots;
	size_t row = find_time(table, point_ns(shot));

	assert_true(row < table->rows);
	assert_int_equal(cell_integer(table, row, "time"), point_ns(shot));
	assert_int_equal(cell_integer(table, row, "shot_no"), shot->shot_no);
	assert_int_equal(cell_integer(table, row, "revision"), shot->revision);
	assert_int_equal(cell_integer(table, row, "current"), 1);
	assert_int_equal(cell_integer(table, row, "filed_us"),
	    shot->filed_at.ns % 1000000000 / 1000);
	assert_int_equal(cell_integer(table, row, "cycle_count"), shot->cycle_count);
	assert_string_equal(cell(table, row, "line"), shot->line);
	assert_string_equal(cell(table, row, "recipe"), or_unknown(shot->recipe));
	assert_string_equal(cell(table, row, "tool"), or_unknown(shot->tool));
	assert_string_equal(cell(table, row, "material"), or_unknown(shot->material));
	assert_string_equal(
	    cell(table, row, "outcome"), shot_outcome_text(shot->outcome));
	assert_string_equal(cell(table, row, "lot"), shot->lot);
	assert_string_equal(cell(table, row, "reason"), shot->reason);
	for (int id = 0; id < FEATURE_COUNT; id++)
		assert_number(table, row, feature_get(id)->name, shot->value[id]);
	for (int id = 0; id < FEATURE_COUNT; id++)
		comparison->absent_points += shot->absent[id] != ABSENT_NOT &&
		                             shot->absent[id] != ABSENT_NOT_CONFIGURED;
	comparison->shot = shot;
	return ledger_read_channels(
	    comparison->read, shot->id, compare_channel, comparison, NULL);
}

/* The points that hold; there are as many shots as the ledger has. */
static void
assert_current_equals_ledger(struct real_influx *influx, struct filled_ledger *filled)
{
	struct comparison comparison = {
	    .read = ledger_read_open(filled->path, NULL),
	    .shots = read_table(influx, "SELECT+*+FROM+shot+WHERE+current=1"),
	    .channels =
		read_table(influx, "SELECT+*+FROM+shot_channel+WHERE+current=1"),
	};
	struct ledger_filter all = {0};

	assert_non_null(comparison.read);
	assert_int_equal(comparison.shots.rows, SHOTS);
	assert_int_equal(ledger_read_shots(comparison.read, &all, true, compare_shot,
			     &comparison, &filled->error),
	    0);
	assert_int_equal(comparison.channels.rows, comparison.channel_points);
	assert_true(comparison.channel_points > 10 * SHOTS);
	assert_true(comparison.absent_points > 10 * SHOTS);
	print_message("%zu shot and %zu shot_channel points: as the ledger\n",
	    comparison.shots.rows, comparison.channels.rows);
	release_table(&comparison.shots);
	release_table(&comparison.channels);
	ledger_read_close(comparison.read);
	/* Absences are of their revision: those that hold are among them. */
	struct table absent =
	    read_table(influx, "SELECT+*+FROM+shot_absent+WHERE+revision='0'");
	assert_int_equal(absent.rows, comparison.absent_points);
	release_table(&absent);
}

/* Every point there is holds. */
static void
assert_store_equals_ledger(struct real_influx *influx, struct filled_ledger *filled)
{
	struct table all = read_table(influx, "SELECT+shot_no+FROM+shot");

	assert_int_equal(all.rows, SHOTS);
	release_table(&all);
	assert_current_equals_ledger(influx, filled);
}

/* Takes steps until `posts` have been taken in all, or everything is there. */
static enum delivery_state
deliver(struct delivery *delivery, struct error *error, int64_t posts)
{
	enum delivery_state state = DELIVERY_MOVING;
	double retry_after_s;

	while (state == DELIVERY_MOVING && delivery_counts(delivery)->posts < posts)
		state = delivery_step(delivery, &retry_after_s, error);
	return state;
}

static void
need_influxd(void)
{
	if (influx_there())
		return;
	print_message("there is no influxd here: apt-get install influxdb\n");
	skip();
}

static void
a_store_that_was_away_in_the_middle_has_everything(void **state)
{
	struct real_influx influx;
	struct filled_ledger filled;
	(void)state;

	need_influxd();
	influx_prepare(&influx);
	influx_start(&influx);
	filled_open(&filled, influx.port);
	filled_add_shots(&filled, SHOTS);
	filled_add_event(&filled, "note", "first \"line\"\nsecond \\ line");
	filled_add_event(&filled, "note", "at the same time");
	struct delivery *delivery =
	    delivery_open(filled.settings, 0, filled.path, NULL, NULL, &filled.error);
	assert_non_null(delivery);

	/* Without its database it refuses us; nothing is set aside for that. */
	assert_int_equal(deliver(delivery, &filled.error, 1), DELIVERY_CLOSED);
	assert_non_null(strstr(filled.error.text, "404"));
	free(influx_query(&influx, "CREATE+DATABASE+plant"));

	assert_int_equal(deliver(delivery, &filled.error, 5), DELIVERY_MOVING);
	influx_stop(&influx);
	for (int i = 0; i < 3; i++)
		assert_int_equal(deliver(delivery, &filled.error, 6), DELIVERY_LATER);
	influx_start(&influx);
	assert_int_equal(deliver(delivery, &filled.error, INT64_MAX), DELIVERY_DONE);
	assert_int_equal(delivery_counts(delivery)->refused, 0);
	assert_store_equals_ledger(&influx, &filled);

	struct table events = read_table(&influx, "SELECT+*+FROM+event");
	assert_int_equal(events.rows, 2);
	assert_string_equal(cell(&events, 0, "text"), "first \"line\" second \\ line");
	assert_string_equal(cell(&events, 1, "text"), "at the same time");
	release_table(&events);

	/* Sent once more from the beginning: the same points. */
	int64_t shots = 0, others = 0;
	assert_int_equal(ledger_set_back(filled.ledger, "plant", (struct wall){1},
			     &shots, &others, &filled.error),
	    0);
	assert_int_equal(shots, SHOTS);
	assert_int_equal(deliver(delivery, &filled.error, INT64_MAX), DELIVERY_DONE);
	assert_store_equals_ledger(&influx, &filled);

	/* Labelled anew: what was there is there still, and holds no longer. */
	int64_t relabelled = 0;
	const struct ledger_entry entry = {"line-3", CONTEXT_TOOL, "T-117",
	    (struct wall){FILLED_START_NS + INT64_C(5000000000000)},
	    (struct wall){FILLED_START_NS}};
	assert_int_equal(
	    ledger_put_context(filled.ledger, &entry, &relabelled, &filled.error), 0);
	assert_in_range(relabelled, 10, SHOTS - 10);
	assert_int_equal(deliver(delivery, &filled.error, INT64_MAX), DELIVERY_DONE);
	struct table old = read_table(&influx,
	    "SELECT+current,superseded,revision,shot_no+FROM+shot+WHERE+current=0");
	assert_int_equal(old.rows, relabelled);
	for (size_t i = 0; i < old.rows; i++) {
		assert_int_equal(cell_integer(&old, i, "superseded"), 1);
		assert_int_equal(cell_integer(&old, i, "revision"), 0);
	}
	release_table(&old);
	assert_current_equals_ledger(&influx, &filled);

	delivery_close(delivery);
	filled_close(&filled);
	influx_close(&influx);
}

/* Somebody else has written a field of ours as a string: only those lines are refused. */
static void
lines_in_conflict_are_set_aside_and_the_rest_is_there(void **state)
{
	struct real_influx influx;
	struct filled_ledger filled;
	(void)state;

	need_influxd();
	influx_prepare(&influx);
	influx_start(&influx);
	filled_open(&filled, influx.port);
	filled_add_shots(&filled, 30);
	free(influx_query(&influx, "CREATE+DATABASE+plant"));
	const char *line = "shot,site=elsewhere heat_s=\"long\" 1772427600000000000";
	char request[512];
	snprintf(request, sizeof(request),
	    "POST /write?db=plant HTTP/1.0\r\nContent-Length: %zu\r\n\r\n%s",
	    strlen(line), line);
	free(influx_ask(&influx, request));

	struct delivery *delivery =
	    delivery_open(filled.settings, 0, filled.path, NULL, NULL, &filled.error);
	assert_int_equal(deliver(delivery, &filled.error, INT64_MAX), DELIVERY_DONE);

	struct text lines = filled_all_lines(&filled);
	int64_t with = 0, without = 0;
	for (const char *at = lines.bytes; at != NULL && *at != '\0';
	     at = strchr(at, '\n') + 1) {
		if (strncmp(at, "shot,", 5) != 0)
			continue;
		const char *field = strstr(at, ",heat_s=");
		bool conflict = field != NULL && field < strchr(at, '\n');
		with += conflict;
		without += !conflict;
	}
	assert_int_equal(with + without, 30);
	assert_int_equal(delivery_counts(delivery)->refused, with);
	assert_non_null(
	    strstr(delivery_counts(delivery)->refusal, "field type conflict"));
	struct table shots =
	    read_table(&influx, "SELECT+*+FROM+shot+WHERE+site='pond-works'");
	assert_int_equal(shots.rows, without);
	release_table(&shots);
	text_release(&lines);
	delivery_close(delivery);
	filled_close(&filled);
	influx_close(&influx);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_store_that_was_away_in_the_middle_has_everything),
	    cmocka_unit_test(lines_in_conflict_are_set_aside_and_the_rest_is_there),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
