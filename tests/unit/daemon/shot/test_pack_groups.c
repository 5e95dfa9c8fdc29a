/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Packs of scans of some of a device's channels, read where they are read together otherwise;
 * and what a fault bit says there. */
#include "tests/unit/daemon/shot/packed.h"

#include "daemon/shot/history.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

enum { CHANNELS = 7, KEPT = 4 * SCANS_MAX };

static const char *const names[CHANNELS] = {
    "top_1", "top_2", "tool", "meter", "flow", "broken", "air"};

/* How often each channel of a device is read, in ms; tops in one row. */
struct pace {
	int top, tool, meter, flow, broken, air;
	const char *fault; /* a line of the tool's section; "" */
};

static struct settings *
settings_of(const struct pace *pace)
{
	char text[4096];

	snprintf(text, sizeof(text),
	    "[site]\nname = t\ntimezone = UTC\ntemperature_unit = C\n"
	    "[ledger]\npath = /tmp/none.db\n"
	    "[line r]\nmachine = rotary\nstations = load, oven, form\nheat_min_s = 30\n"
	    "heat_timer_s = 230\n"
	    "[device plc]\nline = r\naddress = 127.0.0.1:1502\nunit_id = 1\n"
	    "period_ms = 500\n"
	    "[channel plc.rotating]\nrole = rotating\ntable = discrete\naddress = 0\n"
	    "type = bit\n"
	    "[channel plc.form]\nrole = form_closed\ntable = discrete\naddress = 1\n"
	    "type = bit\n"
	    "[device io]\nline = r\naddress = 127.0.0.1:1503\nunit_id = 1\n"
	    "period_ms = 1000\n"
	    "[channel io.top]\nrole = surface_top\ncount = 2\ntable = input\n"
	    "address = 0\ntype = int16\nscale = 0.1\nunit = C\nperiod_ms = %d\n"
	    "[channel io.tool]\nrole = tool\ntable = input\naddress = 20\n"
	    "type = int16\nunit = C\nperiod_ms = %d\n%s"
	    "[channel io.meter]\nrole = energy_meter\ntable = input\naddress = 30\n"
	    "type = uint32\nword_order = abcd\nscale = 0.1\nunit = kWh\nperiod_ms = "
	    "%d\n"
	    "[channel io.flow]\nrole = other\ntable = input\naddress = 40\n"
	    "type = uint16\nperiod_ms = %d\n"
	    "[channel io.broken]\nrole = other\ntable = input\naddress = 41\n"
	    "type = bit\nbit = 2\nperiod_ms = %d\n"
	    "[channel io.air]\nrole = other\ntable = input\naddress = 42\n"
	    "type = int16\nunit = C\nperiod_ms = %d\n",
	    pace->top, pace->tool, pace->fault, pace->meter, pace->flow, pace->broken,
	    pace->air);
	return parse(text);
}

/* Within the device; it must be there. */
static uint32_t
place_of(const struct settings *settings, const char *name)
{
	const struct device_settings *device = &settings->devices[IO];

	for (uint32_t i = 0; i < device->channel_count; i++)
		if (strcmp(settings->channels[device->first_channel + i].name, name) ==
		    0)
			return i;
	fail_msg("no channel '%s'", name);
	return 0;
}

/* --- what each channel got ----------------------------------------------------------- */

struct got {
	int64_t at_ns;
	struct reading reading;
};

struct channel_got {
	size_t count;
	struct got list[KEPT];
};

struct collected {
	const struct settings *settings;
	struct history *history; /* NULL: none */
	struct channel_got by_name[CHANNELS];
};

static int
collect(void *arg, const struct scan *scan)
{
	struct collected *to = arg;

	if (to->history != NULL)
		history_take(to->history, scan);
	for (int n = 0; scan->device == IO && n < CHANNELS; n++) {
		uint32_t i = place_of(to->settings, names[n]) - scan->first;
		struct channel_got *got = &to->by_name[n];

		if (i >= scan->count || scan->readings[i].quality == QUALITY_STALE)
			continue;
		got->list[got->count++] = (struct got){scan->at.ns, scan->readings[i]};
	}
	return 0;
}

static void
collect_pack(
    const struct scans *scans, const struct settings *wanted, struct collected *to)
{
	size_t byte_count;
	unsigned char *bytes = pack(scans, &byte_count);
	struct error error;

	to->settings = wanted;
	assert_int_equal(
	    pack_read(bytes, byte_count,
		&(struct pack_reader){scans->made, wanted, collect, to}, &error),
	    0);
	free(bytes);
}

static void
assert_same(const struct collected *a, const struct collected *b)
{
	for (int n = 0; n < CHANNELS; n++) {
		assert_int_equal(a->by_name[n].count, b->by_name[n].count);
		for (size_t i = 0; i < a->by_name[n].count; i++) {
			const struct got *one = &a->by_name[n].list[i];
			const struct got *other = &b->by_name[n].list[i];

			assert_true(one->at_ns == other->at_ns);
			assert_int_equal(one->reading.quality, other->reading.quality);
			assert_int_equal(one->reading.raw, other->reading.raw);
			if (one->reading.quality == QUALITY_GOOD)
				assert_near(
				    one->reading.value, other->reading.value, 0.0);
		}
	}
}

static int
any_period(void)
{
	static const int periods[] = {500, 1000, 10000};

	return periods[random() % 3];
}

static struct pace
any_pace(void)
{
	return (struct pace){any_period(), any_period(), any_period(), any_period(),
	    any_period(), any_period(), ""};
}

/* Scans of the groups in any order; not all of them in every pack. */
static void
any_scans(struct scans *scans)
{
	const struct device_settings *io = &scans->made->devices[IO];
	int groups = 1 + (int)(random() % io->group_count);

	for (int i = 0; i < 40; i++) {
		struct scan *scan = add_group(scans, IO, (int)(random() % groups));

		scan->sent.ns = scan->at.ns = 1000 * (i + 1);
		for (uint32_t c = 0; c < scan->count; c++) {
			int kind = (int)(random() % 8);

			if (kind == 0)
				continue;
			read_raw(scans, scan, c, (uint32_t)random() % 3000);
			if (kind == 1)
				scan->readings[c] =
				    (struct reading){NAN, QUALITY_COMM_FAULT, 0};
			if (kind == 2)
				freeze(scan, c);
		}
	}
}

static size_t
good_in(const struct history *history, const struct settings *settings, int n)
{
	uint32_t channel =
	    settings->devices[IO].first_channel + place_of(settings, names[n]);
	struct series series = history_series(
	    history, channel, (struct mono){0}, (struct mono){INT64_MAX / 4});
	size_t good = 0;

	for (size_t i = 0; i < series.count; i++)
		good += series_reading(&series, i).quality != QUALITY_STALE;
	return good;
}

static void
nothing_is_lost_where_channels_are_read_together_otherwise(void **state)
{
	unsigned seed = seed_take(3);
	struct collected *was = calloc(1, sizeof(*was));
	struct collected *is = calloc(1, sizeof(*is));

	(void)state;
	for (unsigned round = 0; round < 300; round++) {
		srandom(seed * 1000 + round);
		struct pace then = any_pace(), now = any_pace();
		struct settings *made = settings_of(&then), *wanted = settings_of(&now);
		struct scans scans = {.made = made};

		*was = (struct collected){.settings = made};
		*is = (struct collected){.history = history_new(wanted, 0)};
		/* what one pack has not, another may have: it is all one history */
		for (int p = 0; p < 3; p++) {
			any_scans(&scans);
			for (size_t i = 0; i < scans.count; i++) {
				int64_t later_ns = 1000000 * p;

				scans.list[i]->sent.ns += later_ns;
				scans.list[i]->at.ns += later_ns;
				collect(was, scans.list[i]);
			}
			collect_pack(&scans, wanted, is);
			scans_free(&scans);
		}
		assert_same(was, is);
		for (int n = 0; n < CHANNELS; n++)
			assert_int_equal(
			    good_in(is->history, wanted, n), is->by_name[n].count);
		history_free(is->history);
		settings_free(made);
		settings_free(wanted);
	}
	free(was);
	free(is);
}

/* --- fault bits ----------------------------------------------------------------------- */

/* One scan of every group, all read well and the bit 1; what the tool's sensor shows of it
 * where that bit speaks of it. */
static struct reading
tool_beside_its_bit(const struct pace *then, const struct pace *now)
{
	struct settings *made = settings_of(then), *wanted = settings_of(now);
	struct scans scans = {.made = made};
	struct collected *is = calloc(1, sizeof(*is));
	struct reading reading;

	for (int g = made->devices[IO].group_count - 1; g >= 0; g--) {
		struct scan *scan = add_group(&scans, IO, g);

		for (uint32_t c = 0; c < scan->count; c++)
			read_raw(&scans, scan, c, 4);
	}
	collect_pack(&scans, wanted, is);
	assert_int_equal(is->by_name[2].count, 1);
	assert_int_equal(is->by_name[5].count, 1);
	assert_near(is->by_name[5].list[0].reading.value, 1.0, 0.0);
	reading = is->by_name[2].list[0].reading;
	free(is);
	scans_free(&scans);
	settings_free(made);
	settings_free(wanted);
	return reading;
}

static const char bound[] = "fault_bit = broken\n";

static void
a_bit_named_later_speaks_of_what_was_read_with_it(void **state)
{
	static const struct pace then = {1000, 1000, 1000, 1000, 1000, 1000, ""};
	static const struct pace now = {1000, 1000, 1000, 1000, 1000, 1000, bound};
	struct reading reading = tool_beside_its_bit(&then, &now);

	(void)state;
	assert_int_equal(reading.quality, QUALITY_SENSOR_FAULT);
	assert_int_equal(reading.raw, 4);
	assert_int_equal(tool_beside_its_bit(&now, &now).quality, QUALITY_SENSOR_FAULT);
	/* as it was told then, without */
	assert_int_equal(tool_beside_its_bit(&now, &then).quality, QUALITY_GOOD);
}

/* Meter and flow, which stand between the two, were read by themselves: the tool and its bit
 * come in two scans, and the bit speaks all the same. */
static void
a_bit_in_another_run_of_the_same_scan_speaks(void **state)
{
	static const struct pace then = {1000, 1000, 10000, 10000, 1000, 1000, ""};
	static const struct pace now = {1000, 1000, 1000, 1000, 1000, 1000, bound};

	(void)state;
	assert_int_equal(
	    tool_beside_its_bit(&then, &now).quality, QUALITY_SENSOR_FAULT);
}

/* The bit in a group of its own; the tool's line in the later set-up. */
static const struct pace apart = {1000, 1000, 1000, 1000, 10000, 1000, ""};
static const struct pace together = {1000, 1000, 1000, 1000, 1000, 1000, bound};

/* Adds a scan at that time of the group with the channel, each of its channels 4. */
static struct scan *
add_read(struct scans *scans, const char *name, int64_t at_ns)
{
	const struct device_settings *io = &scans->made->devices[IO];
	uint32_t place = place_of(scans->made, name);
	struct scan *scan;
	int g = 0;

	while (place - io->groups[g].first >= io->groups[g].count)
		g++;
	scan = add_group(scans, IO, g);
	scan->sent.ns = scan->at.ns = at_ns;
	for (uint32_t c = 0; c < scan->count; c++)
		read_raw(scans, scan, c, 4);
	return scan;
}

static void
a_bit_that_was_read_apart_is_held(void **state)
{
	static const enum quality expected[] = {QUALITY_GOOD, QUALITY_SENSOR_FAULT,
	    QUALITY_SENSOR_FAULT, QUALITY_GOOD, QUALITY_COMM_FAULT, QUALITY_COMM_FAULT};
	struct settings *made = settings_of(&apart), *wanted = settings_of(&together);
	struct scans scans = {.made = made};
	struct collected *is = calloc(1, sizeof(*is));
	struct scan *scan;

	(void)state;
	add_read(&scans, "tool", 1000); /* not read yet: as it came */
	add_read(&scans, "broken", 1500);
	add_read(&scans, "tool", 2000);
	add_read(&scans, "tool", 3000);
	scan = add_read(&scans, "broken", 3500);
	read_raw(&scans, scan, 0, 0);
	add_read(&scans, "tool", 4000);
	scan = add_read(&scans, "broken", 4500); /* nobody vouches */
	scan->readings[0] = (struct reading){NAN, QUALITY_COMM_FAULT, 0};
	add_read(&scans, "tool", 5000);
	scan = add_read(&scans, "broken", 5500); /* not kept: what it was holds */
	scan->readings[0] = (struct reading){NAN, QUALITY_STALE, 0};
	add_read(&scans, "tool", 6000);
	collect_pack(&scans, wanted, is);
	assert_int_equal(is->by_name[2].count, 6);
	for (int i = 0; i < 6; i++)
		assert_int_equal(is->by_name[2].list[i].reading.quality, expected[i]);
	assert_near(is->by_name[2].list[3].reading.value, 4.0, 1e-12);
	free(is);
	scans_free(&scans);
	settings_free(made);
	settings_free(wanted);
}

/* As the bus has it: what was known before is of another scan. */
static void
a_bit_that_was_not_read_with_its_channel_vouches_for_nothing(void **state)
{
	struct settings *made = settings_of(&together);
	struct scans scans = {.made = made};
	struct collected *is = calloc(1, sizeof(*is));
	struct scan *scan;

	(void)state;
	scan = add_read(&scans, "broken", 1000);
	read_raw(&scans, scan, place_of(made, "broken"), 0);
	scan = add_read(&scans, "broken", 2000);
	scan->readings[place_of(made, "broken")] =
	    (struct reading){NAN, QUALITY_STALE, 0};
	collect_pack(&scans, made, is);
	assert_int_equal(is->by_name[2].count, 1); /* stale in the second */
	assert_int_equal(is->by_name[2].list[0].reading.quality, QUALITY_GOOD);
	free(is);
	scans_free(&scans);
	settings_free(made);
}

/* The bit is in the first pack, the tool in the second. */
static void
a_bit_is_held_from_pack_to_pack(void **state)
{
	struct settings *made = settings_of(&apart), *wanted = settings_of(&together);
	struct scans first = {.made = made}, second = {.made = made};
	struct collected *is = calloc(1, sizeof(*is));
	struct pack_reader reader = {made, wanted, collect, is};
	struct reading *held = pack_held_new(wanted);
	struct error error;
	size_t length[2];
	unsigned char *bytes[2];

	(void)state;
	is->settings = wanted;
	add_read(&first, "broken", 1000);
	add_read(&second, "tool", 2000);
	bytes[0] = pack(&first, &length[0]);
	bytes[1] = pack(&second, &length[1]);
	for (int i = 0; i < 2; i++)
		assert_int_equal(
		    pack_read_on(bytes[i], length[i], &reader, held, &error), 0);
	assert_int_equal(is->by_name[2].list[0].reading.quality, QUALITY_SENSOR_FAULT);
	/* by itself the second has no bit */
	assert_int_equal(pack_read(bytes[1], length[1], &reader, &error), 0);
	assert_int_equal(is->by_name[2].list[1].reading.quality, QUALITY_GOOD);
	for (int i = 0; i < 2; i++)
		free(bytes[i]);
	free(held);
	free(is);
	scans_free(&first);
	scans_free(&second);
	settings_free(made);
	settings_free(wanted);
}

static int
look_at_tool(void *arg, const struct scan *scan)
{
	struct collected *to = arg;
	uint32_t place = place_of(to->settings, "tool") - scan->first;

	if (scan->device == IO && place < scan->count)
		to->by_name[2].list[to->by_name[2].count++].reading =
		    scan->readings[place];
	return 0;
}

/* A bit that nobody read when the scans were taken. */
static void
a_bit_that_was_not_read_hides_nothing(void **state)
{
	struct settings *made = parse(plant);
	struct settings *wanted = corrected("word_order = abcd\nunit = C\n",
	    "word_order = abcd\nunit = C\nfault_bit = broken\n"
	    "[channel io.broken]\nrole = other\ntable = input\naddress = 99\n"
	    "type = bit\nbit = 0\n");
	struct collected *is = calloc(1, sizeof(*is));
	struct error error;

	(void)state;
	is->settings = wanted;
	assert_int_equal(
	    pack_read(golden, sizeof(golden),
		&(struct pack_reader){made, wanted, look_at_tool, is}, &error),
	    0);
	assert_int_equal(is->by_name[2].count, 1);
	assert_int_equal(is->by_name[2].list[0].reading.quality, QUALITY_GOOD);
	assert_near(is->by_name[2].list[0].reading.value, 100.0, 1e-9);
	free(is);
	settings_free(made);
	settings_free(wanted);
}

/* --- what stood still ------------------------------------------------------------------ */

static int
look_at_first(void *arg, const struct scan *scan)
{
	struct reading *reading = arg;

	*reading = scan->readings[0];
	return 0;
}

/* A limit corrected, the channel still counts as broken; its register is there for the next
 * correction. */
static void
what_stood_still_is_so_under_any_settings(void **state)
{
	struct settings *made = parse(plant);
	struct settings *wanted =
	    corrected("scale = 0.1\nunit = C", "scale = 0.2\nunit = C");
	struct scans scans = {.made = made};
	struct scan *scan = add_part(&scans, IO, 0, 2);
	struct reading reading;
	struct error error;
	size_t byte_count;

	(void)state;
	read_raw(&scans, scan, 0, 1400);
	freeze(scan, 0);
	unsigned char *bytes = pack(&scans, &byte_count);
	assert_int_equal(
	    pack_read(bytes, byte_count,
		&(struct pack_reader){made, wanted, look_at_first, &reading}, &error),
	    0);
	assert_int_equal(reading.quality, QUALITY_FROZEN);
	assert_int_equal(reading.raw, 1400);
	assert_true(isnan(reading.value));
	free(bytes);
	scans_free(&scans);
	settings_free(made);
	settings_free(wanted);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(
		nothing_is_lost_where_channels_are_read_together_otherwise),
	    cmocka_unit_test(a_bit_named_later_speaks_of_what_was_read_with_it),
	    cmocka_unit_test(a_bit_in_another_run_of_the_same_scan_speaks),
	    cmocka_unit_test(a_bit_that_was_read_apart_is_held),
	    cmocka_unit_test(
		a_bit_that_was_not_read_with_its_channel_vouches_for_nothing),
	    cmocka_unit_test(a_bit_is_held_from_pack_to_pack),
	    cmocka_unit_test(a_bit_that_was_not_read_hides_nothing),
	    cmocka_unit_test(what_stood_still_is_so_under_any_settings),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
