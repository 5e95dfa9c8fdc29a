/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was read gets into the ring of every store that wants it, at its interval. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/ledger/ledger_fixture.h"

#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/publish/reading_pack.h"
#include "daemon/run/filing.h"
#include "daemon/run/live.h"
#include "tests/unit/near.h"

enum { STORES = 3, MINUTE = 60 };

static struct fixture fixture;
static struct filing *filing;
static struct live *live;
static struct store_settings stores[STORES];
static struct error error;
static struct wall now;

static int
begin(void **state)
{
	static const double periods_s[STORES] = {10, 0, 10};

	(void)state;
	if (!fixture_init(&fixture))
		return -1;
	log_set_level(LOG_LEVEL_ERROR);
	text_copy(
	    fixture.settings.ledger, sizeof(fixture.settings.ledger), fixture.path);
	for (int i = 0; i < STORES; i++) {
		stores[i] = (struct store_settings){
		    .reading_period_s = periods_s[i], .reading_keep_s = 86400};
		snprintf(stores[i].name, SETTINGS_NAME, "store-%d", i);
	}
	fixture.devices[0].channel_count = 1;
	fixture.settings.memory_shots = 5;
	fixture.settings.stores = stores;
	fixture.settings.store_count = STORES;
	now.ns =
	    clock_wall().ns / (MINUTE * CLOCK_SECOND_NS) * MINUTE * CLOCK_SECOND_NS;
	filing = filing_open(&fixture.settings, &error);
	live = live_new(&fixture.settings, filing);
	return filing != NULL && live != NULL ? 0 : -1;
}

static int
end(void **state)
{
	(void)state;
	live_free(live);
	filing_free(filing);
	fixture_release(&fixture);
	return 0;
}

/* The first channel of the first line reads `value` every second for so long. */
static void
read_for(int seconds, double value)
{
	struct scan *scan = calloc(1, scan_bytes(1));

	assert_non_null(scan);
	scan->count = 1;
	scan->readings[0] = (struct reading){.value = value};
	for (int s = 0; s < seconds; s++) {
		scan->wall = now;
		live_scan(live, scan);
		now.ns += CLOCK_SECOND_NS;
		assert_true(filing_write(filing, true));
	}
	free(scan);
}

static struct taken {
	int count;
	struct wall first, last;
	struct reading_channel channel;
} taken;

static int
take_channel(void *arg, const struct reading_channel *channel)
{
	(void)arg;
	taken.channel = *channel;
	assert_string_equal(channel->channel, fixture.channels[0].name);
	return 0;
}

static int
take_reading(void *arg, const struct ledger_reading *reading)
{
	(void)arg;
	assert_string_equal(reading->line, "line-1");
	if (taken.count++ == 0)
		taken.first = reading->at;
	taken.last = reading->at;
	assert_int_equal(reading_unpack(reading->bytes, reading->byte_count,
			     take_channel, NULL, &error),
	    0);
	return 0;
}

static void
take_ring(const char *store)
{
	struct ledger_read *read = ledger_read_open(fixture.path, &error);

	taken = (struct taken){0};
	assert_non_null(read);
	assert_int_equal(
	    ledger_read_readings(read, store, 0, take_reading, NULL, &error), 0);
	ledger_read_close(read);
}

static void
every_store_that_wants_them_gets_them(void **state)
{
	struct wall start = now;

	(void)state;
	read_for(35, 42);
	for (int i = 0; i < STORES; i += 2) {
		take_ring(stores[i].name);
		assert_int_equal(taken.count, 3);
		assert_int_equal(taken.first.ns, start.ns + 10 * CLOCK_SECOND_NS);
		assert_int_equal(taken.last.ns, start.ns + 30 * CLOCK_SECOND_NS);
		assert_near(taken.channel.mean, 42, 0);
		assert_near(taken.channel.quality, 1, 0);
	}
	take_ring("store-1");
	assert_int_equal(taken.count, 0);
	live_pass(live, now); /* not over yet */
	assert_true(filing_write(filing, true));
	live_pass(live, (struct wall){now.ns + 10 * CLOCK_SECOND_NS});
	assert_true(filing_write(filing, true));
	take_ring("store-0");
	assert_int_equal(taken.count, 4);
}

/* What is under way in an interval that stays is not lost; another is begun. */
static void
other_settings_keep_what_is_under_way(void **state)
{
	static struct store_settings others[2];
	struct settings next = fixture.settings;

	(void)state;
	read_for(5, 10);
	others[0] = (struct store_settings){
	    .name = "new", .reading_period_s = 20, .reading_keep_s = 86400};
	others[1] = stores[2];
	next.stores = others;
	next.store_count = 2;
	filing_adopt(filing, &next);
	live_adopt(live, &next);
	read_for(20, 20);
	take_ring("store-2");
	assert_int_equal(taken.count, 2);
	take_ring("store-0");
	assert_int_equal(taken.count, 0);
	take_ring("new");
	assert_int_equal(taken.count, 1);
	assert_near(taken.channel.mean, 20, 0);
	next.store_count = 0;
	filing_adopt(filing, &next);
	live_adopt(live, &next);
	read_for(20, 30);
	take_ring("new");
	assert_int_equal(taken.count, 1);
}

static void
the_mean_of_an_interval_goes_on_over_other_settings(void **state)
{
	struct settings next = fixture.settings;

	(void)state;
	read_for(5, 10);
	next.store_count = 1;
	filing_adopt(filing, &next);
	live_adopt(live, &next);
	read_for(7, 20);
	take_ring("store-0");
	assert_int_equal(taken.count, 1);
	assert_near(taken.channel.mean, 15, 1e-6);
	assert_near(taken.channel.last, 20, 0);
}

#define LIVE(f) cmocka_unit_test_setup_teardown(f, begin, end)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    LIVE(every_store_that_wants_them_gets_them),
	    LIVE(other_settings_keep_what_is_under_way),
	    LIVE(the_mean_of_an_interval_goes_on_over_other_settings),
	};

	return cmocka_run_group_tests_name("live", tests, NULL, NULL);
}
