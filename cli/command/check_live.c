/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/check_live.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/channel_value.h"
#include "cli/command/registers_bus.h"
#include "conf/raw.h"
#include "conf/register.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/decode.h"

enum {
	AROUND = 3,    /* registers, to look for one that is not there */
	BUSY_MOST = 4, /* tries of a block, while the device says that it is busy */
};

static const struct device_settings *
device_of(const struct settings *settings, const struct live_device *live)
{
	return &settings->devices[live->device];
}

static const struct channel_settings *
channel_of(const struct settings *settings, const struct live_device *live, uint32_t i)
{
	return &settings->channels[device_of(settings, live)->first_channel + i];
}

/* --- asking ------------------------------------------------------------------------------ */

/* The words of the channels that lie in a block. */
static void
take_block(const struct settings *settings, struct live_device *live, size_t block,
    const uint16_t *words)
{
	for (uint32_t i = 0; i < live->plan->channel_count; i++) {
		const struct read_place *place = &live->plan->places[i];
		uint16_t width =
		    register_width(channel_of(settings, live, i)->encoding);
		for (uint16_t w = 0; place->block == block && w < width; w++)
			live->channels[i].words[w] = words[place->offset + w];
	}
}

/* Of a block that the device does not have, or not whole: how to find out what it has. */
static void
advise_block(const struct settings *settings, const struct live_device *live,
    const struct read_block *block, struct error *error)
{
	struct error why = *error;
	bool alone = block->count == 1; /* then what stands around it */

	error_set(error, ERROR_REFUSED,
	    "%.120s; another table, or the first address off by one? 'evensoak "
	    "registers --device %s --table %s --first %d --count %d' shows %s",
	    why.text, device_of(settings, live)->name, words_table.list[block->table],
	    alone && block->first > 0 ? block->first - 1 : block->first,
	    alone ? AROUND : block->count,
	    alone ? "what is there"
		  : "which are there: where only some are not, name those in 'holes'");
}

static enum answer
ask_block(struct live_device *live, struct registers_bus *bus,
    const struct read_block *block, uint16_t *words, struct error *error)
{
	enum answer answer = ANSWER_BUSY;

	for (int i = 0; i < BUSY_MOST && answer == ANSWER_BUSY; i++) {
		answer = registers_bus_read(bus, block, words, error);
		live->asked++;
	}
	return answer;
}

static void
ask_blocks(const struct settings *settings, struct live_device *live,
    struct registers_bus *bus)
{
	const struct live_block *silent = NULL; /* the rest is as this one */
	uint16_t words[PLAN_BITS_MAX];
	struct error error;

	for (size_t b = 0; b < live->plan->block_count; b++) {
		struct live_block *block = &live->blocks[b];
		enum answer answer;
		if (silent) {
			*block = *silent;
			continue;
		}
		answer = ask_block(live, bus, &live->plan->blocks[b], words, &error);
		block->answer = answer;
		if (answer == ANSWER_GOOD) {
			live->answered++;
			take_block(settings, live, b, words);
			continue;
		}
		text_copy(block->why, LIVE_WHY, error.text);
		if (answer_is_silence(answer))
			silent = block;
		registers_bus_advise(bus, answer, &error);
		if (answer == ANSWER_ILLEGAL)
			advise_block(settings, live, &live->plan->blocks[b], &error);
		text_copy(block->advice, LIVE_WHY, error.text);
		if (answer_is_silence(answer) || !*live->why)
			text_copy(live->why, LIVE_WHY, error.text);
	}
	live->slowest_s = bus->slowest_s;
}

/* --- what came of it ------------------------------------------------------------------------ */

static bool
decode_group(const struct settings *settings, struct live_device *live,
    const struct group_settings *group)
{
	struct scan *scan = calloc(1, scan_bytes(group->count));

	if (!scan)
		return false;
	scan->device = live->device;
	scan->first = group->first;
	scan->count = group->count;
	for (uint32_t i = 0; i < group->count; i++) {
		uint32_t c = group->first + i;
		const struct live_block *block =
		    &live->blocks[live->plan->places[c].block];
		scan->readings[i] = (struct reading){NAN, QUALITY_COMM_FAULT, 0};
		if (block->answer == ANSWER_GOOD)
			scan->readings[i] = decode_reading(
			    channel_of(settings, live, c), live->channels[c].words);
	}
	raw_apply_faults(settings, scan);
	for (uint32_t i = 0; i < group->count; i++)
		live->channels[group->first + i].reading = scan->readings[i];
	free(scan);
	return true;
}

static void
explain_sensor_fault(const struct settings *settings, const struct live_device *live,
    uint32_t i, char why[static LIVE_WHY])
{
	const struct channel_settings *channel = channel_of(settings, live, i);
	uint32_t raw = live->channels[i].reading.raw;

	if (raw_is_sentinel(channel, raw))
		snprintf(why, LIVE_WHY,
		    register_width(channel->encoding) == 2
			? "raw 0x%08X is one of its sentinels: no value"
			: "raw 0x%04X is one of its sentinels: no value",
		    (unsigned)raw);
	else if (channel->fault_channel >= 0)
		snprintf(why, LIVE_WHY, "its fault bit '%s' is 1 or has no value",
		    settings->channels[channel->fault_channel].name);
	else
		snprintf(why, LIVE_WHY,
		    "a float that is no number: is it type float32, is the word_order "
		    "right?");
}

/* "6531.1 C: must be -20.0 to 500.0 C". */
static void
explain_range(const struct settings *settings, struct live_device *live, uint32_t i)
{
	struct live_channel *its = &live->channels[i];
	struct channel_settings free = *channel_of(settings, live, i);
	double low_si = free.min_si, high_si = free.max_si;
	const char *unit = unit_text(unit_shown(free.dimension, settings->temperature));
	char value_text[CHANNEL_VALUE], low[CHANNEL_VALUE], high[CHANNEL_VALUE];

	free.min_si = -INFINITY;
	free.max_si = INFINITY;
	its->beyond = decode_reading(&free, its->words).value;
	if (!isfinite(its->beyond)) {
		snprintf(its->why, LIVE_WHY,
		    "a temperature below the absolute zero: look at type, scale and "
		    "word_order");
		return;
	}
	channel_value_text(settings, free.dimension, its->beyond, value_text);
	channel_value_text(settings, free.dimension, low_si, low);
	channel_value_text(settings, free.dimension, high_si, high);
	snprintf(its->cause, LIVE_WHY, "must be %s%s%s%s%s%s", low,
	    *low && *high ? " to " : "", high, *unit ? " " : "", unit,
	    *low && *high ? ""
	    : *low        ? " or more"
			  : " or less");
	snprintf(its->why, LIVE_WHY, "%s%s%s: %.300s", value_text, *unit ? " " : "",
	    unit, its->cause);
}

/* Its own block was not answered, or that of its fault bit. */
static void
explain_comm_fault(
    const struct settings *settings, struct live_device *live, uint32_t i)
{
	struct live_channel *its = &live->channels[i];
	const struct channel_settings *channel = channel_of(settings, live, i);
	const struct live_block *block = &live->blocks[live->plan->places[i].block];

	if (*block->why || channel->fault_channel < 0) {
		text_copy(its->why, LIVE_WHY, block->why);
		text_copy(its->cause, LIVE_WHY, block->advice);
	} else
		snprintf(its->why, LIVE_WHY, "its fault bit '%s' was not read",
		    settings->channels[channel->fault_channel].name);
}

static void
explain(const struct settings *settings, struct live_device *live, uint32_t i)
{
	struct live_channel *channel = &live->channels[i];

	channel->beyond = NAN;
	switch (channel->reading.quality) {
	case QUALITY_GOOD:
		break;
	case QUALITY_SENSOR_FAULT:
		explain_sensor_fault(settings, live, i, channel->why);
		break;
	case QUALITY_OUT_OF_RANGE:
		explain_range(settings, live, i);
		break;
	case QUALITY_STALE:
	case QUALITY_COMM_FAULT:
	case QUALITY_FROZEN:
		explain_comm_fault(settings, live, i);
		break;
	}
	if (!*channel->cause)
		text_copy(channel->cause, LIVE_WHY, channel->why);
}

bool
live_read(struct live_device *live, const struct settings *settings, uint32_t device)
{
	const struct device_settings *its = &settings->devices[device];
	struct registers_bus bus = {0};
	bool fine;

	*live = (struct live_device){.device = device};
	live->plan = plan_new(settings, device);
	if (!live->plan)
		return false;
	live->blocks = calloc(live->plan->block_count + 1, sizeof *live->blocks);
	live->channels = calloc(its->channel_count + 1, sizeof *live->channels);
	fine = live->blocks && live->channels &&
	       registers_bus_init(&bus, &settings->buses[its->bus], its);
	if (fine)
		ask_blocks(settings, live, &bus);
	registers_bus_release(&bus);
	for (int g = 0; fine && g < its->group_count; g++)
		fine = decode_group(settings, live, &its->groups[g]);
	for (uint32_t i = 0; fine && i < its->channel_count; i++) {
		explain(settings, live, i);
		live->good += live->channels[i].reading.quality == QUALITY_GOOD;
	}
	return fine;
}

void
live_release(struct live_device *live)
{
	if (live->plan)
		plan_free(live->plan);
	free(live->blocks);
	free(live->channels);
	*live = (struct live_device){0};
}

bool
live_is_good(const struct live_device *live)
{
	return live->good == live->plan->channel_count;
}
