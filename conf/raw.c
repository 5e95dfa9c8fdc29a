/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/raw.h"

#include <assert.h>
#include <math.h>
#include <string.h>

_Static_assert(sizeof(float) == sizeof(uint32_t), "float must be IEEE 754 binary32");

bool
raw_is_sentinel(const struct channel_settings *channel, uint32_t raw)
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

/* Below the absolute zero: what an int16 of tenths has for "none" where nobody wrote that
 * down as a sentinel. */
static bool
is_colder_than_cold(enum dimension dimension, double value)
{
	return dimension == DIMENSION_TEMPERATURE && value < -273.15;
}

static struct reading
absent(enum quality quality, uint32_t raw)
{
	return (struct reading){.value = NAN, .quality = quality, .raw = raw};
}

static struct reading
good(double value, uint32_t raw)
{
	return (struct reading){.value = value, .quality = QUALITY_GOOD, .raw = raw};
}

struct reading
raw_reading(const struct channel_settings *channel, uint32_t raw)
{
	double value;

	if (raw_is_sentinel(channel, raw))
		return absent(QUALITY_SENSOR_FAULT, raw);
	if (channel->encoding == ENCODING_BIT) {
		bool set = channel->bit < 0 ? raw != 0 : raw >> channel->bit & 1;

		return good(set != channel->inverted, raw);
	}
	value = number(channel->encoding, raw);
	if (!isfinite(value))
		return absent(QUALITY_SENSOR_FAULT, raw);
	value = unit_to_si(channel->unit, channel->dimension,
	    value * channel->scale + channel->offset);
	if (!isfinite(value) || value < channel->min_si || value > channel->max_si ||
	    is_colder_than_cold(channel->dimension, value))
		return absent(QUALITY_OUT_OF_RANGE, raw);
	return good(value, raw);
}

/* --- fault bits --------------------------------------------------------------------- */

static bool
is_read(const struct reading *reading)
{
	return reading->quality != QUALITY_STALE &&
	       reading->quality != QUALITY_COMM_FAULT;
}

void
raw_apply_fault(struct reading *reading, const struct reading *bit)
{
	bool is_good = bit->quality == QUALITY_GOOD;

	if (is_good && bit->value >= 0.5 && is_read(reading))
		*reading = absent(QUALITY_SENSOR_FAULT, reading->raw);
	else if (!is_good && reading->quality == QUALITY_GOOD)
		*reading = absent(bit->quality, reading->raw);
}

void
raw_apply_faults(const struct settings *settings, struct scan *scan)
{
	int64_t first = settings->devices[scan->device].first_channel + scan->first;

	for (uint32_t i = 0; i < scan->count; i++) {
		int32_t channel = settings->channels[first + i].fault_channel;
		int64_t bit = channel - first;

		if (channel >= 0 && bit >= 0 && bit < scan->count)
			raw_apply_fault(&scan->readings[i], &scan->readings[bit]);
	}
}
