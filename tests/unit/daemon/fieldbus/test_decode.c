/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/decode.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/published.h"

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

static void
expect_good(const struct channel_settings *channel, uint16_t first, uint16_t second,
    double value)
{
	uint16_t words[2] = {first, second};
	struct reading reading = decode_reading(channel, words);

	assert_int_equal(reading.quality, QUALITY_GOOD);
	assert_true(fabs(reading.value - value) <= fabs(value) * 1e-12);
}

static void
expect_absent(const struct channel_settings *channel, uint16_t first, uint16_t second,
    enum quality quality)
{
	uint16_t words[2] = {first, second};
	struct reading reading = decode_reading(channel, words);

	assert_int_equal(reading.quality, quality);
	assert_true(isnan(reading.value));
}

/* IEEE 754-2008, binary32: 1 sign, 8 exponent bits with bias 127, 23 of fraction:
 * 123456 = 2^16 x 1.8837890625 is sign 0, exponent 143, fraction 0x712000. */
static void
floats_are_read_in_all_four_orders(void **state)
{
	static const struct {
		double value;
		uint16_t words[4][2]; /* by enum word_order */
	} rows[] = {
	    {123456.0, {{0x47F1, 0x2000}, {0xF147, 0x0020}, {0x2000, 0x47F1},
			   {0x0020, 0xF147}}},
	    {123.456f, {{0x42F6, 0xE979}, {0xF642, 0x79E9}, {0xE979, 0x42F6},
			   {0x79E9, 0xF642}}},
	    {-1.5, {{0xBFC0, 0x0000}, {0xC0BF, 0x0000}, {0x0000, 0xBFC0},
		       {0x0000, 0xC0BF}}},
	    {25.0, {{0x41C8, 0x0000}, {0xC841, 0x0000}, {0x0000, 0x41C8},
		       {0x0000, 0xC841}}},
	};
	struct channel_settings c = channel(ENCODING_FLOAT32);
	struct published_table table = published_begin(
	    SOURCE_IEEE_754, "numbers that the daemon reads of words in four orders");

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
		for (int order = 0; order < 4; order++) {
			c.order = (enum word_order)order;
			published_add(&table,
			    decode_reading(&c, rows[i].words[order]).value,
			    rows[i].value, fabs(rows[i].value) * 1e-12);
		}
	published_end(&table);
}

static void
integers_of_32_bits_follow_the_order_too(void **state)
{
	struct channel_settings c = channel(ENCODING_UINT32);

	(void)state;
	expect_good(&c, 0x0102, 0x0304, 0x01020304);
	c.order = WORD_ORDER_BADC;
	expect_good(&c, 0x0102, 0x0304, 0x02010403);
	c.order = WORD_ORDER_CDAB;
	expect_good(&c, 0x0102, 0x0304, 0x03040102);
	c.order = WORD_ORDER_DCBA;
	expect_good(&c, 0x0102, 0x0304, 0x04030201);
	c = channel(ENCODING_INT32);
	expect_good(&c, 0xFFFF, 0xFFFE, -2);
	expect_good(&c, 0x8000, 0x0000, -2147483648.0);
}

static void
raw_is_in_the_order_of_the_value(void **state)
{
	static const uint16_t words[4][2] = {/* by enum word_order */
	    {0x47F1, 0x2000}, {0xF147, 0x0020}, {0x2000, 0x47F1}, {0x0020, 0xF147}};
	struct channel_settings c = channel(ENCODING_FLOAT32);

	(void)state;
	for (int order = 0; order < 4; order++) {
		c.order = (enum word_order)order;
		assert_int_equal(decode_reading(&c, words[order]).raw, 0x47F12000);
	}
	/* a single register comes as it is, whatever order is left from before */
	c.encoding = ENCODING_INT16;
	assert_int_equal(decode_reading(&c, words[0]).raw, 0x47F1);
}

static void
a_sentinel_of_two_registers_is_their_value_in_order(void **state)
{
	struct channel_settings c = channel(ENCODING_UINT32);

	(void)state;
	c.order = WORD_ORDER_CDAB;
	c.sentinel_count = 1;
	c.sentinels[0] = 0x7FFFFFFF;
	expect_absent(&c, 0xFFFF, 0x7FFF, QUALITY_SENSOR_FAULT);
	expect_good(&c, 0x7FFF, 0xFFFF, 0xFFFF7FFF);
	c = channel(ENCODING_FLOAT32);
	c.sentinel_count = 1;
	c.sentinels[0] = 0xC61C3C00; /* -9999.0 */
	expect_absent(&c, 0xC61C, 0x3C00, QUALITY_SENSOR_FAULT);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(floats_are_read_in_all_four_orders),
	    cmocka_unit_test(integers_of_32_bits_follow_the_order_too),
	    cmocka_unit_test(raw_is_in_the_order_of_the_value),
	    cmocka_unit_test(a_sentinel_of_two_registers_is_their_value_in_order),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
