/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A ledger of random shots, corrected again and again, is delivered to a real InfluxDB and
 * a real VictoriaMetrics; whatever is asked, all three must say the same.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "cli/source/source.h"
#include "daemon/base/calendar.h"
#include "daemon/base/clock.h"
#include "daemon/publish/delivery.h"
#include "tests/unit/cli/source/real_victoria.h"
#include "tests/unit/daemon/publish/filled_ledger.h"

enum { STORES = 2, LINES = 2, SHOTS = 600, ROUNDS = 6, QUESTIONS = 120 };
#define SECOND CLOCK_SECOND_NS

struct fixture {
	struct filled_ledger filled;
	struct real_influx influx;
	struct real_victoria victoria;
	int64_t numbers[LINES];
	struct delivery *deliveries[STORES];
	struct ledger_read *read;
	struct source *ledger, *stores[STORES];
};

static unsigned
draw(struct fixture *all, unsigned below)
{
	return (unsigned)nrand48(all->filled.random) % below;
}

/* --- a ledger that is delivered -------------------------------------------------------- */

/* The demo plant with two lines that have names of their own, and both stores. */
static void
open_ledger(struct fixture *all)
{
	struct settings *settings;
	int64_t setup;

	filled_open(&all->filled, all->influx.port);
	settings = all->filled.settings;
	settings->lines = realloc(settings->lines, LINES * sizeof *settings->lines);
	settings->stores = realloc(settings->stores, STORES * sizeof *settings->stores);
	assert_true(settings->lines != NULL && settings->stores != NULL);
	settings->lines[1] = settings->lines[0];
	snprintf(settings->lines[1].name, SETTINGS_NAME, "line-4");
	settings->line_count = LINES;
	settings->stores[1] = settings->stores[0];
	settings->stores[1].kind = STORE_VICTORIAMETRICS;
	snprintf(settings->stores[1].name, SETTINGS_NAME, "second");
	snprintf(settings->stores[1].url, SETTINGS_PATH, "http://127.0.0.1:%d",
	    all->victoria.as.port);
	settings->store_count = STORES;
	settings->hash[0] ^= 1; /* another set-up, in which there are both */
	assert_int_equal(ledger_put_setup(all->filled.ledger, settings,
			     (struct wall){FILLED_START_NS}, &setup, NULL),
	    0);
}

/* Of a million at most in the unit on file: beside a value of thousands of millions a
 * VictoriaMetrics keeps less than nine decimals of others. */
static void
set_values(struct fixture *all, struct shot *shot)
{
	for (int i = 0; i < FEATURE_COUNT; i++)
		if (isnan(shot->value[i]))
			shot->absent[i] =
			    (unsigned char)(1 + draw(all, ABSENT_NOT_CONFIGURED));
		else if (draw(all, 30) == 0)
			shot->value[i] = draw(all, 2) ? 0 : -1e-12;
		else
			shot->value[i] = feature_to_si(i, filled_number(&all->filled));
}

static void
add_shot(struct fixture *all)
{
	struct shot *shot = filled_shot(&all->filled);
	uint32_t line = draw(all, LINES);
	int64_t ns = FILLED_START_NS + all->filled.shot_no * 13 * SECOND +
	             (int64_t)draw(all, 1000000) * 1000;

	/* a backslash goes out as a slash */
	if (*shot->reason != '\0')
		snprintf(shot->reason, sizeof shot->reason, "the \"logger\", stopped");
	shot->line = line;
	shot->shot_no = ++all->numbers[line];
	shot->closed_at.ns = ns;
	if (draw(all, 4) == 0) /* within the second of others */
		shot->closed_at.ns = ns / (100 * SECOND) * 100 * SECOND +
		                     (int64_t)draw(all, 5) * 200000000;
	shot->form_start_at.ns = shot->outcome == SHOT_COMPLETE ? ns : 0;
	shot->heat_start_at.ns = ns - (int64_t)draw(all, 400) * SECOND;
	shot->loaded_at.ns = draw(all, 3) ? ns - 500 * SECOND : 0;
	shot->flags = draw(all, 1 << SHOT_FLAG_BITS);
	shot->uncertainty_s = draw(all, 5) ? 0.25 : NAN;
	shot->set_points = draw(all, 3) ? UINT64_C(0xfeedfacecafebeef) : 0;
	shot->cycle_count = draw(all, 5) ? shot->shot_no : -1;
	if (draw(all, 2))
		snprintf(shot->properties, sizeof shot->properties, "abs 2 4c1a09e2");
	set_values(all, shot);
	assert_int_equal(ledger_put_shot(all->filled.ledger, all->filled.settings, shot,
			     &all->filled.error),
	    0);
	shot_free(shot);
}

static struct wall
some_time(struct fixture *all)
{
	return (struct wall){FILLED_START_NS + (int64_t)draw(all, SHOTS * 13) * SECOND};
}

static void
correct_label(struct fixture *all)
{
	static const char *const values[] = {"T-117", "A-0412", "", "a = b, \"c\" d",
	    "\xc3\xa4\xc3\xb6 \xe2\x82\xac", "0"};
	struct ledger_entry entry = {
	    .line = all->filled.settings->lines[draw(all, LINES)].name,
	    .key = draw(all, 2) ? CONTEXT_TOOL : CONTEXT_LOT,
	    .value = values[draw(all, 6)],
	    .from = some_time(all),
	    .entered = some_time(all),
	};
	int64_t relabelled;

	assert_int_equal(ledger_put_context(all->filled.ledger, &entry, &relabelled,
			     &all->filled.error),
	    0);
}

struct some {
	int64_t id, shot_no;
	uint32_t line;
	unsigned skip;
	const struct settings *settings;
};

static int
take_some(void *arg, const struct ledger_shot *shot)
{
	struct some *some = arg;

	some->id = shot->id;
	some->shot_no = shot->shot_no;
	some->line = (uint32_t)settings_find_line(some->settings, shot->line);
	return some->skip-- == 0;
}

/* A shot is made again under the same set-up, with other values. */
static void
correct_values(struct fixture *all)
{
	struct some some = {.skip = draw(all, SHOTS), .settings = all->filled.settings};
	bool changed;

	assert_int_equal(ledger_read_shots(all->read, &(struct ledger_filter){0}, false,
			     take_some, &some, NULL),
	    0);
	struct shot *shot = filled_shot(&all->filled);
	all->filled.shot_no--;
	shot->line = some.line;
	shot->shot_no = some.shot_no;
	shot->outcome = (enum shot_outcome)draw(all, SHOT_OUTCOME_COUNT);
	snprintf(shot->reason, sizeof shot->reason, "made again");
	set_values(all, shot);
	assert_int_equal(ledger_put_recomputed(all->filled.ledger, all->filled.settings,
			     some.id, shot, &changed, &all->filled.error),
	    0);
	shot_free(shot);
}

static void
add_event(struct fixture *all)
{
	static const char *const kinds[] = {"start", "end", "recipe"};
	struct wall at = {some_time(all).ns + (int64_t)draw(all, 1000000) * 1000};

	assert_int_equal(ledger_put_event(all->filled.ledger,
			     all->filled.settings->lines[draw(all, LINES)].name, at,
			     kinds[draw(all, 3)], "some \"text\"", &all->filled.error),
	    0);
}

static void
deliver(struct fixture *all, int store)
{
	enum delivery_state state;
	double after_s;

	do
		state =
		    delivery_step(all->deliveries[store], &after_s, &all->filled.error);
	while (state == DELIVERY_MOVING);
	if (state != DELIVERY_DONE)
		fail_msg("%s", all->filled.error.text);
}

static void
fill(struct fixture *all)
{
	for (int round = 0; round < ROUNDS; round++) {
		for (int i = 0; i < SHOTS / ROUNDS; i++) {
			add_shot(all);
			if (draw(all, 10) == 0)
				add_event(all);
			if (draw(all, 20) == 0)
				correct_values(all);
		}
		correct_label(all);
		/* not every revision gets into every store */
		for (int store = 0; store < STORES; store++)
			if (round == ROUNDS - 1 || draw(all, 2))
				deliver(all, store);
	}
	victoria_flush(&all->victoria);
}

/* --- what is asked, and what all must say ------------------------------------------------ */

struct list {
	struct ledger_shot *shots;
	char (*hashes)[17];
	size_t count, most; /* most 0: all */
	struct source *source;
};

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct list *list = arg;

	list->shots = realloc(list->shots, (list->count + 1) * sizeof *list->shots);
	list->hashes = realloc(list->hashes, (list->count + 1) * sizeof *list->hashes);
	assert_true(list->shots != NULL && list->hashes != NULL);
	list->shots[list->count] = *shot;
	list->hashes[list->count][0] = '\0';
	list->count++;
	return list->most != 0 && list->count == list->most;
}

static struct list
read_list(struct source *source, const struct ledger_filter *filter, bool reasons,
    size_t most)
{
	struct list list = {.source = source, .most = most};
	struct error error;

	if (source_read_shots(source, filter, reasons, take_shot, &list, &error) != 0)
		fail_msg("%s: %s", source_name(source), error.text);
	for (size_t i = 0; i < list.count && !filter->values_only; i++)
		assert_int_equal(source_setup_hash(source, list.shots[i].setup,
				     list.hashes[i], &error),
		    0);
	return list;
}

static void
same_time(struct wall a, struct wall b, const char *what)
{
	if (a.ns != b.ns)
		fail_msg("%s: %lld and %lld", what, (long long)a.ns, (long long)b.ns);
}

static void
same_labels(const struct ledger_shot *a, const struct ledger_shot *b)
{
	assert_int_equal(a->shot_no, b->shot_no);
	assert_int_equal(a->revision, b->revision);
	assert_int_equal(a->cycle_count, b->cycle_count);
	assert_string_equal(a->recipe, b->recipe);
	assert_string_equal(a->tool, b->tool);
	assert_string_equal(a->lot, b->lot);
	assert_string_equal(a->material, b->material);
	assert_string_equal(a->reason, b->reason);
	assert_string_equal(a->side, b->side);
	assert_string_equal(a->properties, b->properties);
	assert_true(a->set_points == b->set_points);
	same_time(a->loaded_at, b->loaded_at, "loaded");
	same_time(a->heat_start_at, b->heat_start_at, "heat start");
	same_time(a->heat_end_at, b->heat_end_at, "heat end");
	same_time(a->form_start_at, b->form_start_at, "form start");
	same_time(a->form_end_at, b->form_end_at, "form end");
	same_time(a->closed_at, b->closed_at, "closed");
	assert_true(isnan(a->uncertainty_s) == isnan(b->uncertainty_s));
	if (!isnan(a->uncertainty_s))
		assert_true(a->uncertainty_s == b->uncertainty_s);
}

static void
same_shot(const struct ledger_shot *a, const struct ledger_shot *b, bool values_only)
{
	assert_string_equal(a->line, b->line);
	same_time(a->filed_at, b->filed_at, "filed");
	assert_int_equal(a->outcome, b->outcome);
	assert_int_equal(a->flags, b->flags);
	if (!values_only)
		same_labels(a, b);
	for (int i = 0; i < FEATURE_COUNT; i++) {
		if (a->absent[i] != b->absent[i])
			fail_msg("%s of %s %lld: %d and %d", feature_get(i)->name,
			    a->line, (long long)a->shot_no, a->absent[i], b->absent[i]);
		if (a->absent[i] == ABSENT_NOT &&
		    memcmp(&a->value[i], &b->value[i], sizeof a->value[i]) != 0)
			fail_msg("%s of %s %lld: %.17g and %.17g", feature_get(i)->name,
			    a->line, (long long)a->shot_no, a->value[i], b->value[i]);
	}
}

static void
release(struct list *list)
{
	free(list->shots);
	free(list->hashes);
}

static void
ask_all(
    struct fixture *all, const struct ledger_filter *filter, bool reasons, size_t most)
{
	struct list expected = read_list(all->ledger, filter, reasons, most);

	for (int store = 0; store < STORES; store++) {
		struct list got = read_list(all->stores[store], filter, reasons, most);
		if (got.count != expected.count)
			fail_msg("%s has %zu of %zu shots",
			    source_name(all->stores[store]), got.count, expected.count);
		for (size_t i = 0; i < got.count; i++) {
			same_shot(
			    &expected.shots[i], &got.shots[i], filter->values_only);
			assert_string_equal(expected.hashes[i], got.hashes[i]);
		}
		release(&got);
	}
	release(&expected);
}

/* A bound: anywhere, at the very time of a shot, or a bit beside it. */
static struct wall
some_bound(struct fixture *all, const struct list *shots)
{
	struct wall at = shots->shots[draw(all, (unsigned)shots->count)].filed_at;

	switch (draw(all, 4)) {
	case 0:
		return (struct wall){0};
	case 1:
		return some_time(all);
	case 2:
		at.ns += (int64_t)draw(all, 3) - 1;
		return at;
	default:
		return at;
	}
}

static struct ledger_filter
some_filter(struct fixture *all, const struct list *shots, int *features)
{
	const struct settings *settings = all->filled.settings;
	struct ledger_filter filter = {.from = some_bound(all, shots),
	    .to = some_bound(all, shots),
	    .newest_first = draw(all, 2),
	    .by_time = true,
	    .limit = draw(all, 3) ? 0 : 1 + draw(all, 40),
	    .shot_no = draw(all, 6) ? 0 : 1 + draw(all, SHOTS / LINES),
	    .values_only = draw(all, 4) == 0};

	if (draw(all, 2))
		filter.line = settings->lines[draw(all, LINES)].name;
	else if (draw(all, 10) == 0)
		filter.line = "no such line";
	if (draw(all, 3) == 0) {
		filter.feature_count = 1 + draw(all, 5);
		filter.features = features;
		for (size_t i = 0; i < filter.feature_count; i++)
			features[i] = (int)draw(all, FEATURE_COUNT);
	}
	return filter;
}

static void
whatever_is_asked_stores_say_what_the_ledger_says(void **state)
{
	struct fixture *all = *state;
	const struct ledger_filter every = {.by_time = true};
	struct list shots = read_list(all->ledger, &every, true, 0);
	int64_t revisions = 0;

	assert_int_equal(shots.count, SHOTS);
	for (size_t i = 0; i < shots.count; i++)
		revisions += shots.shots[i].revision;
	assert_true(revisions > 50);
	ask_all(all, &every, true, 0);
	for (int i = 0; i < QUESTIONS; i++) {
		int features[5];
		const struct ledger_filter filter = some_filter(all, &shots, features);
		ask_all(
		    all, &filter, draw(all, 2), draw(all, 5) ? 0 : 1 + draw(all, 9));
	}
	release(&shots);
}

/* --- what hangs on shots ------------------------------------------------------------------- */

struct channels {
	struct ledger_channel list[256];
	size_t count;
};

static int
take_channel(void *arg, const struct ledger_channel *channel)
{
	struct channels *channels = arg;

	if (channel->absent == ABSENT_NOT) {
		assert_true(channels->count < 256);
		channels->list[channels->count++] = *channel;
	}
	return 0;
}

static int
compare_channels(const void *a, const void *b)
{
	const struct ledger_channel *one = a, *two = b;
	int order = strcmp(one->device, two->device);

	return order != 0 ? order : strcmp(one->channel, two->channel);
}

static struct channels
read_channels(struct source *source, const struct ledger_shot *shot)
{
	struct channels channels = {0};
	struct error error;

	if (source_read_channels(source, shot, take_channel, &channels, &error) != 0)
		fail_msg("%s", error.text);
	qsort(channels.list, channels.count, sizeof channels.list[0], compare_channels);
	return channels;
}

static void
same_number(double a, double b)
{
	assert_true(isnan(a) ? isnan(b) : a == b);
}

static void
channels_of_a_shot_are_the_same(void **state)
{
	struct fixture *all = *state;
	const struct ledger_filter every = {.by_time = true};
	struct list mine = read_list(all->ledger, &every, false, 0);

	for (int i = 0; i < 30; i++) {
		const struct ledger_shot *shot =
		    &mine.shots[draw(all, (unsigned)mine.count)];
		struct channels expected = read_channels(all->ledger, shot);
		assert_true(expected.count > 5);
		for (int store = 0; store < STORES; store++) {
			struct channels got = read_channels(all->stores[store], shot);
			assert_int_equal(got.count, expected.count);
			for (size_t k = 0; k < got.count; k++) {
				const struct ledger_channel *a = &expected.list[k];
				const struct ledger_channel *b = &got.list[k];
				assert_int_equal(compare_channels(a, b), 0);
				assert_string_equal(a->role, b->role);
				same_number(a->min, b->min);
				same_number(a->mean, b->mean);
				same_number(a->max, b->max);
				same_number(a->sd, b->sd);
				same_number(a->last, b->last);
				same_number(a->coverage, b->coverage);
			}
		}
	}
	release(&mine);
}

struct events {
	struct ledger_event list[2 * SHOTS];
	size_t count;
};

static int
take_event(void *arg, const struct ledger_event *event)
{
	struct events *events = arg;

	assert_true(events->count < 2 * SHOTS);
	events->list[events->count++] = *event;
	return 0;
}

static void
events_have_their_times_and_kinds(void **state)
{
	struct fixture *all = *state;

	for (int i = 0; i < 20; i++) {
		struct ledger_filter filter = {.by_time = true,
		    .from = draw(all, 2) ? some_time(all) : (struct wall){0},
		    .to = draw(all, 2) ? some_time(all) : (struct wall){0}};
		struct events expected = {.count = 0};
		assert_int_equal(source_read_events(
				     all->ledger, &filter, take_event, &expected, NULL),
		    0);
		for (int store = 0; store < STORES; store++) {
			struct events got = {.count = 0};
			struct error error;
			if (source_read_events(all->stores[store], &filter, take_event,
				&got, &error) != 0)
				fail_msg("%s", error.text);
			assert_int_equal(got.count, expected.count);
			for (size_t k = 0; k < got.count; k++) {
				/* a store has microseconds */
				assert_int_equal(got.list[k].at.ns,
				    expected.list[k].at.ns / 1000 * 1000);
				assert_string_equal(
				    got.list[k].kind, expected.list[k].kind);
				assert_string_equal(
				    got.list[k].line, expected.list[k].line);
			}
		}
	}
}

static int
take_line(void *arg, const char *line)
{
	strcat(strcat(arg, line), ";");
	return 0;
}

static void
lines_are_told_in_order(void **state)
{
	struct fixture *all = *state;

	for (int i = -1; i < STORES; i++) {
		char names[200] = "";
		struct source *source = i < 0 ? all->ledger : all->stores[i];
		assert_int_equal(source_read_lines(source, take_line, names, NULL), 0);
		assert_string_equal(names, "line-3;line-4;");
	}
}

static void
a_store_that_is_not_there_is_one_sentence(void **state)
{
	struct fixture *all = *state;
	struct store_settings *stores = all->filled.settings->stores;
	const struct ledger_filter every = {.by_time = true};
	struct list list = {0};
	struct error error;

	snprintf(stores[0].database, SETTINGS_NAME, "plnt");
	struct source *source = source_of_store(all->filled.settings, 0, &error);
	assert_non_null(source);
	assert_int_equal(
	    source_read_shots(source, &every, true, take_shot, &list, &error),
	    ERROR_NOT_FOUND);
	assert_non_null(strstr(error.text, "database not found: plnt"));
	source_close(source);
	snprintf(stores[0].database, SETTINGS_NAME, "plant");
	int ports[2];
	influx_free_ports(ports);
	snprintf(stores[0].url, SETTINGS_PATH, "http://127.0.0.1:%d", ports[0]);
	source = source_of_store(all->filled.settings, 0, &error);
	assert_non_null(source);
	assert_int_equal(
	    source_read_shots(source, &every, true, take_shot, &list, &error),
	    ERROR_IO);
	assert_non_null(strstr(error.text, "store 'plant'"));
	assert_int_equal(list.count, 0);
	source_close(source);
}

/* --- all ------------------------------------------------------------------------------------ */

static int
set_up(void **state)
{
	static struct fixture all;
	struct error error;

	influx_prepare(&all.influx);
	influx_start(&all.influx);
	free(influx_ask(
	    &all.influx, "POST /query?q=CREATE+DATABASE+plant HTTP/1.0\r\n\r\n"));
	victoria_start(&all.victoria);
	open_ledger(&all);
	all.read = ledger_read_open(all.filled.path, &error);
	assert_non_null(all.read);
	all.ledger = source_of_ledger(all.read, all.filled.path, &error);
	for (size_t i = 0; i < STORES; i++) {
		all.deliveries[i] = delivery_open(
		    all.filled.settings, i, all.filled.path, NULL, NULL, &error);
		all.stores[i] = source_of_store(all.filled.settings, i, &error);
		assert_true(all.deliveries[i] != NULL && all.stores[i] != NULL);
	}
	fill(&all);
	*state = &all;
	return 0;
}

static int
tear_down(void **state)
{
	struct fixture *all = *state;

	for (int i = 0; i < STORES; i++) {
		source_close(all->stores[i]);
		delivery_close(all->deliveries[i]);
	}
	source_close(all->ledger);
	ledger_read_close(all->read);
	filled_close(&all->filled);
	victoria_close(&all->victoria);
	influx_close(&all->influx);
	return 0;
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(whatever_is_asked_stores_say_what_the_ledger_says),
	    cmocka_unit_test(channels_of_a_shot_are_the_same),
	    cmocka_unit_test(events_have_their_times_and_kinds),
	    cmocka_unit_test(lines_are_told_in_order),
	    cmocka_unit_test(a_store_that_is_not_there_is_one_sentence),
	};

	if (!influx_there() || !victoria_there()) {
		fputs("SKIP: there is no influxd, or no victoria-metrics\n", stderr);
		return 77;
	}
	return cmocka_run_group_tests(tests, set_up, tear_down);
}
