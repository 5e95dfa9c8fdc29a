/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/wording/shown.h"

#include <math.h>
#include <string.h>

#include "daemon/base/text.h"
#include "daemon/shot/shot.h"

/* Digits after the point, for people: about a tenth of what the sensor resolves. */
static int
digits_of(enum dimension dimension)
{
	switch (dimension) {
	case DIMENSION_NONE:
		return 0;
	case DIMENSION_TEMPERATURE:
	case DIMENSION_TIME:
	case DIMENSION_RATIO:
	case DIMENSION_POWER:
	case DIMENSION_THERMAL_RESISTANCE:
	case DIMENSION_FLOW:
		return 1;
	case DIMENSION_TEMPERATURE_DIFFERENCE:
	case DIMENSION_ENERGY:
	case DIMENSION_PRESSURE:
	case DIMENSION_LENGTH:
		return 2;
	case DIMENSION_TEMPERATURE_RATE:
		return 3;
	}
	return 0;
}

static enum dimension
deviation_of(enum dimension dimension)
{
	return dimension == DIMENSION_TEMPERATURE ? DIMENSION_TEMPERATURE_DIFFERENCE
	                                          : dimension;
}

static struct cell
measure(const struct settings *settings, enum dimension dimension, double value,
    double value_si, int digits)
{
	if (!isfinite(value))
		return cell_absent(NULL);
	enum unit unit = unit_shown(dimension, settings->temperature);
	return cell_shown(value, unit_from_si(unit, dimension, value_si), digits);
}

static double
to_si(int feature, double value)
{
	return feature_to_si(feature, value);
}

/* Of a figure without a unit, unless it is a count. */
static int
digits_of_feature(int feature)
{
	return feature == FEATURE_FOURIER ? 2
	                                  : digits_of(feature_get(feature)->dimension);
}

/* Little energy, such as what one circuit takes away, has one more: 0.042 kWh. */
static int
finer(int feature, double value)
{
	return feature_get(feature)->dimension == DIMENSION_ENERGY && fabs(value) < 1;
}

struct cell
shown_value(const struct settings *settings, int feature, double value)
{
	return measure(settings, feature_get(feature)->dimension, value,
	    to_si(feature, value), digits_of_feature(feature) + finer(feature, value));
}

struct cell
shown_deviation(const struct settings *settings, int feature, double sd)
{
	return measure(settings, deviation_of(feature_get(feature)->dimension), sd,
	    to_si(feature, sd),
	    digits_of_feature(feature) + 1 + finer(feature, 10 * sd));
}

const char *
shown_unit(const struct settings *settings, int feature)
{
	return unit_text(
	    unit_shown(feature_get(feature)->dimension, settings->temperature));
}

struct cell
shown_channel(
    const struct settings *settings, enum dimension dimension, double value_si)
{
	return measure(settings, dimension, value_si, value_si, digits_of(dimension));
}

struct cell
shown_channel_deviation(
    const struct settings *settings, enum dimension dimension, double sd_si)
{
	return measure(
	    settings, deviation_of(dimension), sd_si, sd_si, digits_of(dimension) + 1);
}

struct cell
shown_name(const char *name)
{
	return *name ? cell_words(name) : cell_absent(NULL);
}

void
shown_clock(struct wall wall, struct wall today, char text[static CALENDAR_TEXT])
{
	enum { DATE = sizeof "2026-03-02" - 1 };
	char day[CALENDAR_TEXT], whole[CALENDAR_TEXT];

	calendar_local_text(today, day);
	calendar_local_text(wall, whole);
	text_copy(text, CALENDAR_TEXT,
	    whole + (strncmp(whole, day, DATE) == 0 ? DATE + 1 : 0));
}

void
shown_words(const char *word, char *text, size_t room)
{
	text_copy(text, room, word);
	for (char *at = text; *at; at++)
		if (*at == '_')
			*at = ' ';
}

void
shown_flags(uint32_t flags, char text[static SHOWN_FLAGS])
{
	size_t length = 0;

	text[0] = '\0';
	for (int bit = 0; bit < SHOT_FLAG_BITS; bit++) {
		if (!(flags & 1u << bit))
			continue;
		const char *word = shot_flag_text(bit);
		if (length > 0)
			text_copy(text + length, SHOWN_FLAGS - length, ", ");
		length = strlen(text);
		text_copy(text + length, SHOWN_FLAGS - length, word);
		length = strlen(text);
	}
}
