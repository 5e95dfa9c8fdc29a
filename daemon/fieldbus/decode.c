/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/decode.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "conf/register.h"

_Static_assert(sizeof(float) == sizeof(uint32_t), "float must be IEEE 754 binary32");

static uint16_t
swap_bytes(uint16_t word)
{
	return (uint16_t)(word << 8 | word >> 8);
}

static uint32_t
join(uint16_t high, uint16_t low)
{
	return (uint32_t)high << 16 | low;
}

static uint32_t
join_in_order(enum word_order order, const uint16_t *words)
{
	switch (order) {
	case WORD_ORDER_ABCD:
		return join(words[0], words[1]);
	case WORD_ORDER_BADC:
		return join(swap_bytes(words[0]), swap_bytes(words[1]));
	case WORD_ORDER_CDAB:
		return join(words[1], words[0]);
	case WORD_ORDER_DCBA:
		return join(swap_bytes(words[1]), swap_bytes(words[0]));
	}
	assert(!"a word order");
	return 0;
}

static bool
is_sentinel(const struct channel_settings *channel, uint32_t raw)
{
	for (int i = 0; i < channel->sentinel_count; i++)
		if (channel->sentinels[i] == raw)
			return true;
	return false;
}

static double
number(enum encoding encoding, uint32_t raw)
{
	float real;

	switch (encoding) {
	case ENCODING_BIT:
	case ENCODING_UINT16:
	case ENCODING_UINT32:
		return raw;
	case ENCODING_INT16:
		return (int16_t)raw;
	case ENCODING_INT32:
		return (int32_t)raw;
	case ENCODING_FLOAT32:
		memcpy(&real, &raw, sizeof real);
		return real;
	}
	assert(!"an encoding");
	return NAN;
}

static struct reading
absent(enum quality quality)
{
	return (struct reading){.value = NAN, .quality = quality};
}

static struct reading
good(double value)
{
	return (struct reading){.value = value, .quality = QUALITY_GOOD};
}

struct reading
decode_reading(const struct channel_settings *channel, const uint16_t *words)
{
	bool wide = register_width(channel->encoding) == 2;
	uint32_t raw = wide ? join_in_order(channel->order, words) : words[0];
	double value;

	if (is_sentinel(channel, raw))
		return absent(QUALITY_SENSOR_FAULT);
	if (channel->encoding == ENCODING_BIT) {
		bool set = channel->bit < 0 ? raw != 0 : raw >> channel->bit & 1;

		return good(set != channel->inverted);
	}
	value = number(channel->encoding, raw);
	if (!isfinite(value))
		return absent(QUALITY_SENSOR_FAULT);
	value = unit_to_si(channel->unit, channel->dimension,
	    value * channel->scale + channel->offset);
	if (!isfinite(value) || value < channel->min_si || value > channel->max_si)
		return absent(QUALITY_OUT_OF_RANGE);
	return good(value);
}
