/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/raw.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
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

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(sign_and_scale_are_applied),
	    cmocka_unit_test(units_become_si_by_the_dimension),
	    cmocka_unit_test(a_sentinel_is_compared_before_sign_and_scale),
	    cmocka_unit_test(a_float_that_is_no_number_is_a_sensor_fault),
	    cmocka_unit_test(outside_the_range_is_absent_and_the_bounds_are_inside),
	    cmocka_unit_test(bits_are_picked_and_inverted),
	    cmocka_unit_test(integers_of_32_bits_have_their_sign),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
