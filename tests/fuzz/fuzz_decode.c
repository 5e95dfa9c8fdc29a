/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Registers to a reading: whatever they hold and however a channel is set up, a value is
 * a finite number within the channel's range, a sentinel is none, and the raw bits are
 * the registers' in the order of the value.
 *
 * Input: the two registers (4 bytes), encoding, word order, bit, inverted, unit, how many
 * sentinels; scale, offset, least, most (8 each); the sentinels (4 each).
 */
#include "tests/fuzz/target.h"

#include <math.h>

#include "daemon/fieldbus/decode.h"

/* What the configuration lets through: see conf/check.c. */
static bool
is_possible(const struct channel_settings *channel)
{
	return isfinite(channel->scale) && fabs(channel->scale) > 1e-9 &&
	       fabs(channel->scale) < 1e9 && isfinite(channel->offset) &&
	       fabs(channel->offset) < 1e9 && !isnan(channel->min_si) &&
	       !isnan(channel->max_si);
}

static struct channel_settings
channel_of(struct input *input)
{
	static const struct {
		enum unit unit;
		enum dimension dimension;
	} measures[] = {
	    {UNIT_CELSIUS, DIMENSION_TEMPERATURE},
	    {UNIT_FAHRENHEIT, DIMENSION_TEMPERATURE},
	    {UNIT_PERCENT, DIMENSION_RATIO},
	    {UNIT_GALLON_PER_MINUTE, DIMENSION_FLOW},
	};
	struct channel_settings channel = {0};
	uint8_t encoding = input_u8(input) % (ENCODING_FLOAT32 + 1);

	channel.encoding = (enum encoding)encoding;
	channel.order = (enum word_order)(input_u8(input) % 4);
	channel.bit = input_u8(input) % 17 - 1;
	channel.inverted = input_u8(input) & 1;
	uint8_t measure = input_u8(input) % 4;
	channel.unit = measures[measure].unit;
	channel.dimension = measures[measure].dimension;
	channel.sentinel_count = input_u8(input) % (SETTINGS_SENTINELS + 1);
	channel.scale = input_double(input);
	channel.offset = input_double(input);
	channel.min_si = input_double(input);
	channel.max_si = input_double(input);
	for (int i = 0; i < channel.sentinel_count; i++)
		channel.sentinels[i] = input_u32(input);
	return channel;
}

/* The bytes of the value, the most significant first, and the number that they are. */
static uint32_t
bits_of(const struct channel_settings *channel, const uint16_t words[2])
{
	static const char orders[][5] = {
	    [WORD_ORDER_ABCD] = "ABCD",
	    [WORD_ORDER_BADC] = "BADC",
	    [WORD_ORDER_CDAB] = "CDAB",
	    [WORD_ORDER_DCBA] = "DCBA",
	};
	uint8_t wire[] = {(uint8_t)(words[0] >> 8), (uint8_t)words[0],
	    (uint8_t)(words[1] >> 8), (uint8_t)words[1]};
	uint32_t bits = 0;

	if (channel->encoding != ENCODING_INT32 &&
	    channel->encoding != ENCODING_UINT32 &&
	    channel->encoding != ENCODING_FLOAT32)
		return words[0];
	for (char letter = 'A'; letter <= 'D'; letter++) {
		const char *order = orders[channel->order];

		bits = bits * 256 + wire[strchr(order, letter) - order];
	}
	return bits;
}

static double
number_of(enum encoding encoding, uint32_t bits)
{
	union {
		uint32_t bits;
		float number;
	} real = {bits};

	switch (encoding) {
	case ENCODING_INT16:
		return bits >= 0x8000 ? (double)bits - 0x10000 : bits;
	case ENCODING_INT32:
		return bits >= 0x80000000 ? (double)bits - 4294967296.0 : bits;
	case ENCODING_FLOAT32:
		return real.number;
	case ENCODING_BIT:
	case ENCODING_UINT16:
	case ENCODING_UINT32:
		break;
	}
	return bits;
}

static void
check_value(const struct channel_settings *channel, struct reading reading)
{
	double number = number_of(channel->encoding, reading.raw);
	bool is_float = channel->encoding == ENCODING_FLOAT32;

	switch (reading.quality) {
	case QUALITY_GOOD:
		MUST(isfinite(reading.value) && isfinite(number));
		MUST(reading.value >= channel->min_si &&
		     reading.value <= channel->max_si);
		break;
	case QUALITY_SENSOR_FAULT:
		MUST(is_float && !isfinite(number));
		break;
	case QUALITY_OUT_OF_RANGE:
		MUST(isfinite(number));
		break;
	case QUALITY_STALE:
	case QUALITY_COMM_FAULT:
	case QUALITY_FROZEN:
		MUST(!"what only the bus can tell");
	}
	if (reading.quality != QUALITY_GOOD)
		return;
	/* back again: within what doubles can tell */
	double back = (unit_from_si(channel->unit, channel->dimension, reading.value) -
			  channel->offset) /
	              channel->scale;
	double far = 1e-9 * (fabs(number) +
				(fabs(channel->offset) + 500) / fabs(channel->scale));
	MUST(fabs(back - number) <= far);
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	struct input input = {bytes, length};
	uint16_t words[2] = {input_u16(&input), input_u16(&input)};
	struct channel_settings channel = channel_of(&input);
	bool sentinel = false;

	if (!is_possible(&channel))
		return 0;
	struct reading reading = decode_reading(&channel, words);

	MUST(reading.raw == bits_of(&channel, words));
	MUST((reading.quality == QUALITY_GOOD) == !isnan(reading.value));
	for (int i = 0; i < channel.sentinel_count; i++)
		sentinel |= channel.sentinels[i] == reading.raw;
	if (sentinel) {
		MUST(reading.quality == QUALITY_SENSOR_FAULT);
	} else if (channel.encoding == ENCODING_BIT) {
		bool set = channel.bit < 0 ? words[0] != 0
		                           : (words[0] & 1 << channel.bit) != 0;

		MUST(reading.quality == QUALITY_GOOD);
		MUST(fabs(reading.value - (set != channel.inverted)) < 0.5);
	} else {
		check_value(&channel, reading);
	}
	return 0;
}
