/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/raw.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>

static struct channel_settings
channel(enum encoding encoding)
{
	return (struct channel_settings){
	    .table = TABLE_HOLDING,
	    .encoding = encoding,
	    .bit = -1,
	    .scale = 1,
	    .unit = UNIT_ONE,
	    .dimension = DIMENSION_NONE,
	    .min_si = -INFINITY,
	    .max_si = INFINITY,
	};
}

/* Whatever it means, the reading carries what was read. */
static void
expect_good(const struct channel_settings *channel, uint32_t raw, double value)
{
	struct reading reading = raw_reading(channel, raw);

	assert_int_equal(reading.quality, QUALITY_GOOD);
	assert_int_equal(reading.raw, raw);
	assert_true(fabs(reading.value - value) <= fabs(value) * 1e-12);
}

static void
expect_absent(
    const struct channel_settings *channel, uint32_t raw, enum quality quality)
{
	struct reading reading = raw_reading(channel, raw);

	assert_int_equal(reading.quality, quality);
	assert_int_equal(reading.raw, raw);
	assert_true(isnan(reading.value));
}

static void
sign_and_scale_are_applied(void **state)
{
	struct channel_settings c = channel(ENCODING_INT16);

	(void)state;
	c.scale = 0.1;
	expect_good(&c, 0xFF9C, -10.0); /* -100 tenths */
	c.offset = 5;
	expect_good(&c, 0xFF9C, -5.0);
	c = channel(ENCODING_UINT16);
	c.scale = 0.1;
	expect_good(&c, 0xFF9C, 6543.6);
}

/* The fixed points of the two scales: 32 F = 0 C, 212 F = 100 C (NIST SP 811, B.8). */
static void
units_become_si_by_the_dimension(void **state)
{
	struct channel_settings c = channel(ENCODING_INT16);

	(void)state;
	c.unit = UNIT_FAHRENHEIT;
	c.dimension = DIMENSION_TEMPERATURE;
	expect_good(&c, 212, 100);
	c.dimension = DIMENSION_TEMPERATURE_DIFFERENCE;
	expect_good(&c, 180, 100);
	c.unit = UNIT_PERCENT;
	c.dimension = DIMENSION_RATIO;
	c.scale = 0.1;
	expect_good(&c, 475, 0.475);
}

static void
a_sentinel_is_compared_before_sign_and_scale(void **state)
{
	struct channel_settings c = channel(ENCODING_INT16);

	(void)state;
	c.scale = 0.1;
	c.sentinel_count = 3;
	c.sentinels[0] = 0x7FFF;
	c.sentinels[1] = 0x8000;
	c.sentinels[2] = 0xD8F1; /* -9999 */
	expect_absent(&c, 0x7FFF, QUALITY_SENSOR_FAULT);
	expect_absent(&c, 0x8000, QUALITY_SENSOR_FAULT);
	expect_absent(&c, 0xD8F1, QUALITY_SENSOR_FAULT);
	expect_good(&c, 0x7FFE, 3276.6);
	c.max_si = 500; /* a broken sensor is not merely out of range */
	expect_absent(&c, 0x7FFF, QUALITY_SENSOR_FAULT);
}

static void
a_float_that_is_no_number_is_a_sensor_fault(void **state)
{
	struct channel_settings c = channel(ENCODING_FLOAT32);

	(void)state;
	expect_absent(&c, 0x7FC00000, QUALITY_SENSOR_FAULT); /* quiet NaN */
	expect_absent(&c, 0xFF800001, QUALITY_SENSOR_FAULT); /* signalling NaN */
	expect_absent(&c, 0x7F800000, QUALITY_SENSOR_FAULT); /* +Inf */
	expect_absent(&c, 0xFF800000, QUALITY_SENSOR_FAULT); /* -Inf */
}

static void
outside_the_range_is_absent_and_the_bounds_are_inside(void **state)
{
	struct channel_settings c = channel(ENCODING_INT16);

	(void)state;
	c.min_si = -20;
	c.max_si = 80;
	expect_good(&c, 80, 80);
	expect_good(&c, (uint16_t)-20, -20);
	expect_absent(&c, 81, QUALITY_OUT_OF_RANGE);
	expect_absent(&c, (uint16_t)-21, QUALITY_OUT_OF_RANGE);
	c = channel(ENCODING_FLOAT32);
	c.scale = 1e300; /* 3e38 times this is no double any more */
	expect_absent(&c, 0x7F7FFFFF, QUALITY_OUT_OF_RANGE);
}

/* -273.15 C (NIST SP 811, B.8); a difference may be as large as it likes. */
static void
nothing_is_colder_than_the_absolute_zero(void **state)
{
	struct channel_settings c = channel(ENCODING_INT16);

	(void)state;
	c.scale = 0.1;
	c.unit = UNIT_CELSIUS;
	c.dimension = DIMENSION_TEMPERATURE;
	expect_good(&c, (uint16_t)-2731, -273.1);
	expect_absent(&c, (uint16_t)-2732, QUALITY_OUT_OF_RANGE);
	expect_absent(&c, 0x8000, QUALITY_OUT_OF_RANGE);
	c.unit = UNIT_FAHRENHEIT;
	expect_good(&c, (uint16_t)-4596, (-459.6 - 32) / 1.8);
	expect_absent(&c, (uint16_t)-4597, QUALITY_OUT_OF_RANGE);
	c.dimension = DIMENSION_TEMPERATURE_DIFFERENCE;
	expect_good(&c, 0x8000, -3276.8 / 1.8);
}

static void
bits_are_picked_and_inverted(void **state)
{
	struct channel_settings c = channel(ENCODING_BIT);

	(void)state;
	expect_good(&c, 1, 1); /* a coil */
	expect_good(&c, 0, 0);
	c.inverted = true;
	expect_good(&c, 1, 0);
	expect_good(&c, 0, 1);
	c.inverted = false;
	for (int bit = 0; bit < 16; bit++) {
		c.bit = bit;
		expect_good(&c, (uint16_t)(1 << bit), 1);
		expect_good(&c, (uint16_t) ~(1 << bit), 0);
	}
}

static void
integers_of_32_bits_have_their_sign(void **state)
{
	struct channel_settings c = channel(ENCODING_INT32);

	(void)state;
	expect_good(&c, 0xFFFFFFFE, -2);
	expect_good(&c, 0x80000000, -2147483648.0);
	c = channel(ENCODING_UINT32);
	expect_good(&c, 0xFFFFFFFE, 4294967294.0);
}

/* A device that means something else by it: the same bits, each as its encoding. */
static void
a_sentinel_is_the_whole_register_whatever_its_sign(void **state)
{
	struct channel_settings c = channel(ENCODING_INT32);

	(void)state;
	c.scale = 0.001;
	c.sentinel_count = 1;
	c.sentinels[0] = 0xFFFFD8F1; /* -9999 in 32 bits */
	expect_absent(&c, 0xFFFFD8F1, QUALITY_SENSOR_FAULT);
	expect_good(&c, 0x0000D8F1, 55.537); /* its lower half alone */
	c = channel(ENCODING_UINT16);
	c.sentinel_count = 1;
	c.sentinels[0] = 0xFFFF;
	expect_absent(&c, 0xFFFF, QUALITY_SENSOR_FAULT);
	c = channel(ENCODING_FLOAT32);
	c.scale = 0.1;
	c.offset = 7;
	c.sentinel_count = 1;
	c.sentinels[0] = 0xC61C3C00; /* -9999 */
	expect_absent(&c, 0xC61C3C00, QUALITY_SENSOR_FAULT);
	expect_good(&c, 0xC61C3800, -9998 * 0.1 + 7);
}

/* Every NaN there is has these bits set and any of the others (IEEE 754-2008, 3.4);
 * the signalling ones have the highest of those others 0. */
static void
no_nan_is_a_value_and_its_bits_are_kept(void **state)
{
	struct channel_settings c = channel(ENCODING_FLOAT32);

	(void)state;
	c.scale = 0.1;
	c.offset = 20;
	for (int bit = 0; bit < 23; bit++) {
		expect_absent(&c, 0x7F800000 | 1U << bit, QUALITY_SENSOR_FAULT);
		expect_absent(&c, 0xFF800000 | 1U << bit, QUALITY_SENSOR_FAULT);
	}
	c.min_si = 0; /* a broken sensor, not a number that cannot be */
	expect_absent(&c, 0x7F800001, QUALITY_SENSOR_FAULT);
	expect_absent(&c, 0xFF800000, QUALITY_SENSOR_FAULT);
	expect_good(&c, 0x7F7FFFFF, 3.4028234663852886e38 * 0.1 + 20);
}

/* --- fault bits -------------------------------------------------------------------- */

/* A device of five channels, of which the scan has the last four: a measure, its bit,
 * another measure with that bit, and one whose bit is of another scan. */
struct bench {
	struct settings settings;
	struct device_settings device;
	struct channel_settings channels[6];
	struct scan *scan;
};

static void
set_up(struct bench *bench)
{
	*bench = (struct bench){.scan = calloc(1, scan_bytes(4))};
	assert_non_null(bench->scan);
	bench->scan->first = 1;
	bench->scan->count = 4;
	bench->settings.devices = &bench->device;
	bench->settings.channels = bench->channels;
	bench->device.first_channel = 1;
	bench->device.channel_count = 5;
	for (int i = 0; i < 6; i++)
		bench->channels[i].fault_channel = -1;
	bench->channels[2].fault_channel = 3;
	bench->channels[4].fault_channel = 3;
	bench->channels[5].fault_channel = 1; /* before the scan */
	for (uint32_t i = 0; i < 4; i++)
		bench->scan->readings[i] =
		    (struct reading){20 + i, QUALITY_GOOD, 200 + i};
	bench->scan->readings[1] = (struct reading){0, QUALITY_GOOD, 0};
}

static void
set(struct bench *bench, uint32_t i, enum quality quality, double value)
{
	bench->scan->readings[i].quality = quality;
	bench->scan->readings[i].value = value;
}

static void
expect(const struct bench *bench, uint32_t i, enum quality quality)
{
	const struct reading *reading = &bench->scan->readings[i];

	assert_int_equal(reading->quality, quality);
	assert_int_equal(isnan(reading->value), quality != QUALITY_GOOD);
	assert_int_equal(reading->raw, i == 1 ? 0 : 200 + i);
}

static void
a_bit_that_is_0_changes_nothing(void **state)
{
	struct bench bench;

	(void)state;
	set_up(&bench);
	raw_apply_faults(&bench.settings, bench.scan);
	for (uint32_t i = 0; i < 4; i++)
		expect(&bench, i, QUALITY_GOOD);
	assert_true(bench.scan->readings[0].value == 20);
	free(bench.scan);
}

static void
a_bit_that_is_1_makes_its_channels_sensor_faults(void **state)
{
	struct bench bench;

	(void)state;
	set_up(&bench);
	set(&bench, 1, QUALITY_GOOD, 1);
	set(&bench, 2, QUALITY_OUT_OF_RANGE, NAN);
	for (int again = 0; again < 2; again++) {
		raw_apply_faults(&bench.settings, bench.scan);
		expect(&bench, 0, QUALITY_SENSOR_FAULT);
		expect(&bench, 1, QUALITY_GOOD);
		expect(&bench, 2, QUALITY_SENSOR_FAULT);
		expect(&bench, 3, QUALITY_GOOD); /* its bit is not in the scan */
	}
	free(bench.scan);
}

static void
what_was_not_read_is_no_sensor_fault(void **state)
{
	struct bench bench;

	(void)state;
	set_up(&bench);
	set(&bench, 1, QUALITY_GOOD, 1);
	set(&bench, 0, QUALITY_COMM_FAULT, NAN);
	set(&bench, 2, QUALITY_STALE, NAN);
	raw_apply_faults(&bench.settings, bench.scan);
	expect(&bench, 0, QUALITY_COMM_FAULT);
	expect(&bench, 2, QUALITY_STALE);
	free(bench.scan);
}

static void
a_bit_that_is_not_good_vouches_for_nothing(void **state)
{
	static const enum quality qualities[] = {QUALITY_STALE, QUALITY_SENSOR_FAULT,
	    QUALITY_COMM_FAULT, QUALITY_OUT_OF_RANGE, QUALITY_FROZEN};
	struct bench bench;

	(void)state;
	for (size_t i = 0; i < sizeof qualities / sizeof qualities[0]; i++) {
		set_up(&bench);
		set(&bench, 1, qualities[i], NAN);
		set(&bench, 2, QUALITY_OUT_OF_RANGE, NAN);
		raw_apply_faults(&bench.settings, bench.scan);
		expect(&bench, 0, qualities[i]);
		expect(&bench, 2, QUALITY_OUT_OF_RANGE); /* its own reason */
		expect(&bench, 3, QUALITY_GOOD);
		free(bench.scan);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(sign_and_scale_are_applied),
	    cmocka_unit_test(units_become_si_by_the_dimension),
	    cmocka_unit_test(a_sentinel_is_compared_before_sign_and_scale),
	    cmocka_unit_test(a_float_that_is_no_number_is_a_sensor_fault),
	    cmocka_unit_test(outside_the_range_is_absent_and_the_bounds_are_inside),
	    cmocka_unit_test(nothing_is_colder_than_the_absolute_zero),
	    cmocka_unit_test(bits_are_picked_and_inverted),
	    cmocka_unit_test(integers_of_32_bits_have_their_sign),
	    cmocka_unit_test(a_sentinel_is_the_whole_register_whatever_its_sign),
	    cmocka_unit_test(no_nan_is_a_value_and_its_bits_are_kept),
	    cmocka_unit_test(a_bit_that_is_0_changes_nothing),
	    cmocka_unit_test(a_bit_that_is_1_makes_its_channels_sensor_faults),
	    cmocka_unit_test(what_was_not_read_is_no_sensor_fault),
	    cmocka_unit_test(a_bit_that_is_not_good_vouches_for_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
