/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The poller and its link against servers that misbehave, 10,000 times over TCP and as
 * often on serial lines: nothing wrong is ever called good, and once a server behaves
 * again so does everything else.
 *
 * Many buses at a time, since most of the time is waiting.  Recovery is counted in
 * scans: of those after the one in which the last lie was told.
 */
#include "tests/unit/daemon/fieldbus/liar.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#include <cmocka.h>

#include "conf/register.h"
#include "conf/settings.h"
#include "daemon/base/clock.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/poller.h"
#include "tests/unit/daemon/fieldbus/stall.h"
#include "tests/unit/seed.h"

enum {
	RATE = 100, /* of the clock: a period of 4 s is 40 ms */
	TIMEOUT_MS = 30,
	BUSES = 80,
	MISBEHAVIOURS = 10000,
	BURST_MAX = 4,    /* misbehaviours in a row */
	GOOD_BETWEEN = 3, /* good scans in a row before the next */
	LOST_MAX = 16,
	UNIT_ID = 17,
};

/* Two blocks of a length in one table, so that the answer to one would do for the
 * other; all four tables; both widths. */
struct stretch {
	enum register_table table;
	uint16_t first;
	uint32_t count;
	enum encoding encoding;
};

static const struct stretch stretches[] = {
    {TABLE_HOLDING, 0, 10, ENCODING_UINT16},
    {TABLE_HOLDING, 100, 10, ENCODING_UINT16},
    {TABLE_INPUT, 100, 5, ENCODING_UINT32},
    {TABLE_COIL, 7, 30, ENCODING_BIT},
    {TABLE_DISCRETE, 7, 30, ENCODING_BIT},
};
enum { STRETCHES = sizeof stretches / sizeof *stretches, CHANNELS = 85 };

/* A nap that is late by a quarter of the time-out: with server and link on this machine an
 * answer may then be late without anybody lying. */
static struct stall machine;
enum { STALL_NS = TIMEOUT_MS * 1000000 / 4 };

struct bus {
	struct liar liar;
	struct settings settings;
	struct bus_settings bus;
	struct device_settings device;
	struct channel_settings channels[CHANNELS];
	struct poller *poller;
	/* Of the poller's thread, until it has been stopped. */
	unsigned random;
	int left;   /* misbehaviours to come */
	bool out;   /* an episode is on: not recovered yet */
	bool lying; /* and the scan with its last lie has not come */
	int good_run, lost, scans, good;
	bool stalled; /* the machine stood still while it recovered: counted apart */
	int recovered[LOST_MAX + 1]; /* episodes by how many scans were lost after */
	int excused;                 /* episodes that were stalled */
	int wrong;
	char first_wrong[200];
	atomic_bool done;
};

static void
bus_settings(struct bus *bus)
{
	struct channel_settings *channel = bus->channels;

	bus->bus = (struct bus_settings){
	    .kind = bus->liar.serial ? BUS_SERIAL : BUS_TCP,
	    .name = "liar",
	    .host = "127.0.0.1",
	    .port = bus->liar.port,
	    .baud = 115200,
	    .parity = PARITY_NONE, /* a pseudo-terminal has none */
	    .stop_bits = 2,
	};
	text_copy(bus->bus.path, sizeof bus->bus.path, bus->liar.path);
	bus->device = (struct device_settings){
	    .name = "liar",
	    .unit_id = UNIT_ID,
	    .period_s = 4,
	    .timeout_s = TIMEOUT_MS / 1000.0,
	    .max_registers = 125,
	    .hole_count = 1,
	    .holes = {{TABLE_HOLDING, 50, 60}},
	    .channel_count = CHANNELS,
	    .group_count = 1,
	    .groups = {{.count = CHANNELS, .period_s = 4}},
	};
	for (int s = 0; s < STRETCHES; s++)
		for (uint32_t i = 0; i < stretches[s].count; i++)
			*channel++ = (struct channel_settings){
			    .table = stretches[s].table,
			    .address =
				(uint16_t)(stretches[s].first +
					   i * register_width(stretches[s].encoding)),
			    .encoding = stretches[s].encoding,
			    .bit = -1,
			    .scale = 1,
			    .min_si = -INFINITY,
			    .max_si = INFINITY,
			    .period_s = 4,
			    .fault_channel = -1,
			};
	bus->settings = (struct settings){
	    .devices = &bus->device,
	    .device_count = 1,
	    .buses = &bus->bus,
	    .bus_count = 1,
	    .channels = bus->channels,
	    .channel_count = CHANNELS,
	};
}

static uint32_t
truth(const struct channel_settings *channel, int64_t epoch)
{
	int function = (int)channel->table + 1, address = channel->address;
	uint32_t value = liar_value(UNIT_ID, function, address, epoch);

	if (channel->encoding == ENCODING_UINT32)
		value = value << 16 | liar_value(UNIT_ID, function, address + 1, epoch);
	return value;
}

static bool
held_at(const struct channel_settings *channels, const struct reading *readings,
    uint32_t count, int64_t epoch)
{
	for (uint32_t i = 0; i < count; i++)
		if (readings[i].raw != truth(&channels[i], epoch))
			return false;
	return true;
}

/* Whether the server held all of a block's values at some moment of the scan. */
static bool
held_during(const struct scan *scan, const struct channel_settings *channels,
    const struct reading *readings, uint32_t count)
{
	int64_t last = liar_epoch(scan->at.ns);

	for (int64_t epoch = liar_epoch(scan->sent.ns); epoch <= last; epoch++)
		if (held_at(channels, readings, count, epoch))
			return true;
	return false;
}

static void
note_wrong(struct bus *bus, const struct scan *scan, int stretch, const char *what)
{
	if (bus->wrong++ == 0)
		snprintf(bus->first_wrong, sizeof bus->first_wrong,
		    "%s: table %d from %u, scan %d, epochs %lld to %lld", what,
		    (int)stretches[stretch].table, stretches[stretch].first, bus->scans,
		    (long long)liar_epoch(scan->sent.ns),
		    (long long)liar_epoch(scan->at.ns));
}

/* Whether the block is good. */
static bool
check_stretch(struct bus *bus, const struct scan *scan, int stretch, uint32_t at)
{
	const struct reading *readings = scan->readings + at;
	uint32_t count = stretches[stretch].count, good = 0;

	for (uint32_t i = 0; i < count; i++) {
		const struct reading *reading = &readings[i];
		bool absent = reading->quality == QUALITY_COMM_FAULT &&
		              isnan(reading->value) && reading->raw == 0;

		if (reading->quality == QUALITY_GOOD)
			good++;
		else if (!absent)
			note_wrong(bus, scan, stretch, "neither good nor absent");
		if (reading->quality == QUALITY_GOOD &&
		    fabs(reading->value - reading->raw) > 0)
			note_wrong(bus, scan, stretch, "the value is not its bits");
	}
	if (good > 0 && good < count)
		note_wrong(bus, scan, stretch, "half a block");
	if (good == count && !held_during(scan, bus->channels + at, readings, count))
		note_wrong(bus, scan, stretch, "what the server did not hold then");
	return good == count;
}

static void
go_on(struct bus *bus)
{
	int requests = 1 + rand_r(&bus->random) % BURST_MAX;

	if (bus->out) {
		if (bus->stalled)
			bus->excused++;
		else
			bus->recovered[bus->lost < LOST_MAX ? bus->lost : LOST_MAX]++;
		bus->out = bus->stalled = false;
	}
	if (requests > bus->left)
		requests = bus->left;
	bus->left -= requests;
	bus->lost = bus->good_run = 0;
	if (requests == 0) {
		bus->done = true;
		return;
	}
	bus->out = bus->lying = true;
	liar_begin(&bus->liar, requests);
}

static void
watch(void *arg, const struct scan *scan)
{
	struct bus *bus = arg;
	bool over = bus->liar.burst == 0, honest = over && !bus->lying, good = true;
	uint32_t at = 0;

	for (int s = 0; s < STRETCHES; s++) {
		good &= check_stretch(bus, scan, s, at);
		at += stretches[s].count;
	}
	if (scan->count != CHANNELS)
		note_wrong(bus, scan, 0, "not all channels");
	if (over)
		bus->lying = false; /* this was the scan with the last lie in it */
	bus->scans++;
	bus->good += good;
	bus->good_run = good && honest ? bus->good_run + 1 : 0;
	if (!good && honest) {
		bus->lost++;
		bus->stalled |= stall_was(&machine, INT64_C(3000000) * TIMEOUT_MS);
	}
	if (bus->good_run == GOOD_BETWEEN && !bus->done)
		go_on(bus);
}

static void
bus_start(struct bus *bus, bool serial, unsigned seed, int misbehaviours)
{
	struct error error;

	memset(bus, 0, sizeof *bus);
	bus->random = seed;
	bus->left = misbehaviours;
	(serial ? liar_start_serial : liar_start)(
	    &bus->liar, TIMEOUT_MS, seed ^ 0x5a5a5a5a);
	bus_settings(bus);
	bus->poller = poller_start(&bus->settings, 0, watch, bus, &error);
	assert_non_null(bus->poller);
}

/* False when some bus did not come to its end. */
static bool
wait_for_all(struct bus *buses, int count, int seconds)
{
	for (int i = 0; i < seconds * 100; i++) {
		int done = 0;

		for (int b = 0; b < count; b++)
			done += buses[b].done;
		if (done == count)
			return true;
		usleep(10000);
	}
	return false;
}

/* Of all buses together. */
struct sum {
	int scans, good, wrong, told[LIE_COUNT], lies, recovered[LOST_MAX + 1],
	    episodes, excused; /* the excused are not in recovered */
	int writes;            /* requests with another function than 1 to 4 */
	const char *first_wrong;
};

static void
add(struct sum *sum, const struct bus *bus)
{
	sum->scans += bus->scans;
	sum->good += bus->good;
	sum->wrong += bus->wrong;
	if (bus->wrong && !sum->first_wrong)
		sum->first_wrong = bus->first_wrong;
	for (int lie = 0; lie < LIE_COUNT; lie++) {
		sum->told[lie] += bus->liar.told[lie];
		if (lie != LIE_NONE)
			sum->lies += bus->liar.told[lie];
	}
	for (int i = 0; i <= LOST_MAX; i++) {
		sum->recovered[i] += bus->recovered[i];
		sum->episodes += bus->recovered[i];
	}
	sum->excused += bus->excused;
	sum->episodes += bus->excused;
	for (int f = 0; f < 256; f++)
		if (f < 1 || f > 4)
			sum->writes += bus->liar.functions[f];
}

static void
tell(const struct sum *sum)
{
	printf("%d misbehaviours in %d episodes; %d scans, %d of them good; scans lost "
	       "once it behaved:",
	    sum->lies, sum->episodes, sum->scans, sum->good);
	for (int i = 0; i <= LOST_MAX; i++)
		if (sum->recovered[i])
			printf(" %d: %d times;", i, sum->recovered[i]);
	printf(" the machine stood still: %d times; wrong: %d\n", sum->excused,
	    sum->wrong);
	fflush(stdout);
}

/*
 * `allowed`: scans that may be lost once a server behaves.  Of a hundred episodes ten may
 * lose more: what a busy test machine stalls away is not always seen (six programs that
 * count for ever on two processors: seven).
 */
static void
lie_to_all(bool serial, int allowed)
{
	static struct bus buses[BUSES];
	struct sum sum = {0};
	unsigned seed = seed_take((unsigned)time(NULL));
	int recovered = 0;
	bool all;

	stall_start(&machine, STALL_NS);
	for (int b = 0; b < BUSES; b++)
		bus_start(&buses[b], serial, seed + (unsigned)b, MISBEHAVIOURS / BUSES);
	all = wait_for_all(buses, BUSES, 200);
	for (int b = 0; b < BUSES; b++) {
		poller_stop(buses[b].poller);
		liar_stop(&buses[b].liar);
		add(&sum, &buses[b]);
	}
	stall_stop(&machine);
	tell(&sum);
	if (sum.wrong)
		fail_msg("%d wrong; the first: %s", sum.wrong, sum.first_wrong);
	assert_int_equal(sum.writes, 0);
	assert_true(all);
	assert_true(sum.lies >= MISBEHAVIOURS);
	for (int lie = 1; lie < LIE_COUNT; lie++)
		assert_true(!liar_knows(&buses[0].liar, (enum lie)lie) ||
			    sum.told[lie] > MISBEHAVIOURS / LIE_COUNT / 3);
	for (int i = 0; i <= allowed; i++)
		recovered += sum.recovered[i];
	/* what a machine that stands still for a moment spoils is left out */
	assert_true(sum.episodes - sum.excused >= sum.episodes / 4);
	assert_true(recovered >= (sum.episodes - sum.excused) * 90 / 100);
	assert_true(sum.recovered[LOST_MAX] <= sum.episodes / 50);
}

static void
over_tcp_nothing_wrong_is_good_and_the_next_scan_is_right(void **state)
{
	(void)state;
	lie_to_all(false, 0);
}

/* A unit whose late answers could no longer be told apart, after several of a short block,
 * is left alone for four time-outs: these are three periods here. */
static void
on_serial_lines_nothing_wrong_is_good_and_units_are_soon_believed(void **state)
{
	(void)state;
	lie_to_all(true, 4);
}

static int
set_up(void **state)
{
	struct error error;

	(void)state;
	log_set_level(LOG_LEVEL_ERROR);
	return clock_run_at(RATE, (struct wall){0}, 0, &error);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(over_tcp_nothing_wrong_is_good_and_the_next_scan_is_right),
	    cmocka_unit_test(
		on_serial_lines_nothing_wrong_is_good_and_units_are_soon_believed),
	};

	return cmocka_run_group_tests(tests, set_up, NULL);
}
