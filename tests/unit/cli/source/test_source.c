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
#include "tests/unit/cli/source/corrected_plant.h"

enum { QUESTIONS = 120 };

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

static bool
is_asked(const struct ledger_filter *filter, int feature)
{
	for (size_t i = 0; i < filter->feature_count; i++)
		if (filter->features[i] == feature)
			return true;
	return filter->features == NULL;
}

static void
same_shot(const struct ledger_shot *a, const struct ledger_shot *b,
    const struct ledger_filter *filter)
{
	assert_string_equal(a->line, b->line);
	same_time(a->filed_at, b->filed_at, "filed");
	assert_int_equal(a->outcome, b->outcome);
	assert_int_equal(a->flags, b->flags);
	if (!filter->values_only)
		same_labels(a, b);
	for (int i = 0; i < FEATURE_COUNT; i++) {
		if (!is_asked(filter, i)) {
			assert_true(isnan(a->value[i]) && isnan(b->value[i]));
			continue;
		}
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
			same_shot(&expected.shots[i], &got.shots[i], filter);
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
	return cmocka_run_group_tests(tests, corrected_open, corrected_close);
}
