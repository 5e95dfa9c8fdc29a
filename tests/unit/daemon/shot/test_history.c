/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings are kept with their registers, in order, and within the bound. */
#include "tests/unit/daemon/shot/packed.h"

#include "daemon/shot/history.h"
#include "tests/unit/near.h"

struct kept {
	struct settings *settings;
	struct history *history;
	struct scans scans; /* what was given, in order of their answers */
};

static int
begin(void **state)
{
	struct kept *kept = calloc(1, sizeof(*kept));

	kept->settings = parse(plant);
	kept->history = history_new(kept->settings, 0);
	kept->scans.made = kept->settings;
	*state = kept;
	return kept->history != NULL ? 0 : -1;
}

static int
end(void **state)
{
	struct kept *kept = *state;

	history_free(kept->history);
	scans_free(&kept->scans);
	settings_free(kept->settings);
	free(kept);
	return 0;
}

/* A scan every 100 ms: the controller's, and at every third place the other device's. */
static void
give(struct kept *kept, int count)
{
	for (int i = 0; i < count; i++) {
		uint32_t device = i % 3 == 2 ? IO : PLC;
		struct scan *scan = add(&kept->scans, device);

		scan->at.ns = (i + 1) * INT64_C(100000000);
		scan->sent.ns = scan->at.ns - 3000000;
		read_raw(&kept->scans, scan, 0, device == PLC ? 1 : 1000 + (uint32_t)i);
		if (device == IO)
			read_raw(&kept->scans, scan, 1, 0x7fff);
		history_take(kept->history, scan);
	}
}

static struct mono
at_ms(int64_t ms)
{
	return (struct mono){ms * 1000000};
}

static void
a_reading_comes_back_with_its_registers(void **state)
{
	struct kept *kept = *state;
	struct series top, other;

	give(kept, 300);
	top = history_series(kept->history, TOP_1, at_ms(0), at_ms(60000));
	other = history_series(kept->history, TOP_2, at_ms(0), at_ms(60000));
	assert_int_equal(top.count, 100);
	for (size_t i = 0; i < top.count; i++) {
		struct reading reading = series_reading(&top, i);
		int number = (int)i * 3 + 2;

		assert_int_equal(reading.raw, 1000 + number);
		assert_near(reading.value, (1000 + number) * 0.1, 1e-9);
		assert_int_equal(series_time(&top, i).ns, at_ms(100 * number + 100).ns);
		reading = series_reading(&other, i);
		assert_int_equal(reading.raw, 0x7fff);
		assert_int_equal(reading.quality, QUALITY_SENSOR_FAULT);
	}
}

struct place {
	const struct scans *scans;
	size_t next;
};

static int
compare(void *arg, const struct scan *scan)
{
	struct place *place = arg;
	const struct scan *right = place->scans->list[place->next++];

	assert_int_equal(scan->device, right->device);
	assert_true(scan->at.ns == right->at.ns && scan->sent.ns == right->sent.ns);
	assert_int_equal(scan->count, right->count);
	for (uint32_t i = 0; i < scan->count; i++) {
		assert_int_equal(scan->readings[i].raw, right->readings[i].raw);
		assert_int_equal(scan->readings[i].quality, right->readings[i].quality);
	}
	return place->next == 250 ? 7 : 0;
}

static void
scans_come_back_in_the_order_of_their_answers(void **state)
{
	struct kept *kept = *state;
	struct place place = {.scans = &kept->scans};

	give(kept, 300);
	/* asked for at 9.997 s at the earliest: the one answered at 10.1 s is the first */
	place.next = 99;
	assert_int_equal(
	    history_scans(kept->history, at_ms(9990), at_ms(20000), compare, &place),
	    0);
	assert_int_equal(place.next, 200);
	place.next = 0;
	assert_int_equal(
	    history_scans(kept->history, at_ms(0), at_ms(99000), compare, &place), 7);
}

static void
a_scan_answered_before_it_was_asked_is_left_out(void **state)
{
	struct kept *kept = *state;
	struct scan *scan;

	give(kept, 3);
	scan = add(&kept->scans, PLC);
	scan->at = at_ms(400);
	scan->sent = at_ms(401);
	read_raw(&kept->scans, scan, 0, 1);
	history_take(kept->history, scan);
	assert_int_equal(
	    history_series(kept->history, 0, at_ms(0), at_ms(1000)).count, 2);
	scan->sent = at_ms(400);
	history_take(kept->history, scan);
	assert_int_equal(
	    history_series(kept->history, 0, at_ms(0), at_ms(1000)).count, 3);
}

static void
memory_stays_within_its_bound(void **state)
{
	struct kept *kept = *state;
	struct series series;
	size_t row = 4 * (sizeof(double) + sizeof(uint32_t) + 1) + 2 * sizeof(int64_t);
	struct scan *scan = add(&kept->scans, IO);

	for (int64_t i = 1; i <= 400000; i++) {
		scan->at.ns = scan->sent.ns = i * 1000000;
		history_take(kept->history, scan);
	}
	series = history_series(kept->history, TOP_1, at_ms(0), at_ms(400000));
	assert_true(series.count * row <= HISTORY_BYTES_MAX);
	assert_true(series.count * row > HISTORY_BYTES_MAX / 4);
	/* the newest are there */
	assert_int_equal(series_time(&series, series.count - 1).ns, at_ms(400000).ns);
}

#define KEPT(f) cmocka_unit_test_setup_teardown(f, begin, end)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    KEPT(a_reading_comes_back_with_its_registers),
	    KEPT(scans_come_back_in_the_order_of_their_answers),
	    KEPT(a_scan_answered_before_it_was_asked_is_left_out),
	    KEPT(memory_stays_within_its_bound),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
