/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pack read under other settings than its scans were taken under. */
#include "tests/unit/daemon/shot/packed.h"

#include "tests/unit/near.h"

struct wish {
	uint32_t device, channel;
	struct reading reading;
	size_t count;
};

static int
look(void *arg, const struct scan *scan)
{
	struct wish *wish = arg;

	if (scan->device == wish->device) {
		wish->count++;
		assert_true(scan->count > wish->channel);
		wish->reading = scan->readings[wish->channel];
	}
	return 0;
}

/* What `small` gives for a channel (of the device) when `from` is corrected to `to`. */
static struct reading
read_under(const char *from, const char *to, uint32_t device, uint32_t channel)
{
	struct settings *made = parse(plant), *wanted = corrected(from, to);
	struct wish wish = {.device = device, .channel = channel};
	struct error error;

	assert_int_equal(pack_read(golden, sizeof(golden),
			     &(struct pack_reader){made, wanted, look, &wish}, &error),
	    0);
	assert_true(wish.count > 0);
	settings_free(made);
	settings_free(wanted);
	return wish.reading;
}

static void
a_corrected_scale_sentinel_or_limit_is_heeded(void **state)
{
	struct reading reading;

	(void)state;
	assert_near(
	    read_under("scale = 0.1\nunit = C", "scale = 0.2\nunit = C", IO, 0).value,
	    280.0, 1e-9);
	reading = read_under("sentinels = 0x7fff", "sentinels = 1400", IO, 0);
	assert_int_equal(reading.quality, QUALITY_SENSOR_FAULT);
	reading = read_under("sentinels = 0x7fff", "sentinels = 1400", IO, 1);
	assert_int_equal(reading.quality, QUALITY_GOOD);
	assert_near(reading.value, 3276.7, 1e-9);
	reading = read_under(
	    "unit = C\nsentinels = 0x7fff", "unit = C\nmaximum = 100", IO, 0);
	assert_int_equal(reading.quality, QUALITY_OUT_OF_RANGE);
	/* 0x42c80000 is 100; with its words the other way round it is 0x000042c8 */
	assert_near(read_under("word_order = abcd", "word_order = cdab", IO, 2).value,
	    0x42c8 * 0x1p-149, 1e-60);
}

static void
a_channel_is_known_by_its_registers_not_by_its_name(void **state)
{
	struct reading reading;

	(void)state;
	/* moved: what stands there now was never read */
	reading = read_under("address = 20", "address = 22", IO, 2);
	assert_int_equal(reading.quality, QUALITY_STALE);
	assert_true(isnan(reading.value));
	/* renamed: the same registers */
	reading = read_under("channel io.tool", "channel io.mould", IO, 2);
	assert_near(reading.value, 100.0, 1e-9);
	/* of another width */
	reading =
	    read_under("type = float32\nword_order = abcd", "type = int16", IO, 2);
	assert_int_equal(reading.quality, QUALITY_STALE);
}

static void
bits_are_corrected_within_their_word(void **state)
{
	struct settings *made = parse(plant);
	struct settings *wanted = corrected("bit = 3", "bit = 2");
	struct scans scans = {.made = made};
	struct wish wish = {.device = PLC, .channel = 1};
	struct error error;
	size_t byte_count;

	(void)state;
	read_raw(&scans, add(&scans, PLC), 1, 4);
	assert_near(scans.list[0]->readings[1].value, 0.0, 0.0);
	unsigned char *bytes = pack(&scans, &byte_count);
	assert_int_equal(pack_read(bytes, byte_count,
			     &(struct pack_reader){made, wanted, look, &wish}, &error),
	    0);
	assert_near(wish.reading.value, 1.0, 0.0);
	free(bytes);
	scans_free(&scans);
	settings_free(made);
	settings_free(wanted);
}

static void
scans_of_other_devices_are_refused(void **state)
{
	struct settings *made = corrected("count = 2\n", "count = 3\n");
	struct error error;

	(void)state;
	assert_int_equal(pack_read(golden, sizeof(golden),
			     &(struct pack_reader){made, made, drop, NULL}, &error),
	    ERROR_INVALID);
	assert_non_null(strstr(error.text, "other devices"));
	settings_free(made);
}

static void
a_device_that_nobody_wants_is_left_out(void **state)
{
	struct settings *made = parse(plant);
	struct settings *wanted = corrected("plc", "other");
	struct wish plc = {.device = PLC}, io = {.device = IO};
	struct error error;

	(void)state;
	assert_int_equal(pack_read(golden, sizeof(golden),
			     &(struct pack_reader){made, wanted, look, &plc}, &error),
	    0);
	assert_int_equal(pack_read(golden, sizeof(golden),
			     &(struct pack_reader){made, wanted, look, &io}, &error),
	    0);
	assert_int_equal(plc.count, 0);
	assert_int_equal(io.count, 1);
	settings_free(made);
	settings_free(wanted);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_corrected_scale_sentinel_or_limit_is_heeded),
	    cmocka_unit_test(a_channel_is_known_by_its_registers_not_by_its_name),
	    cmocka_unit_test(bits_are_corrected_within_their_word),
	    cmocka_unit_test(scans_of_other_devices_are_refused),
	    cmocka_unit_test(a_device_that_nobody_wants_is_left_out),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
