/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/channel.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "conf/channel_type.h"
#include "conf/draft.h"
#include "conf/list.h"
#include "conf/pace.h"
#include "conf/places.h"
#include "conf/register.h"
#include "conf/role.h"
#include "conf/value.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

void
channel_span(const struct part *part, int *first, int *last)
{
	const struct channel_draft *draft = &part->as.channel;
	int registers = draft->count * register_width(draft->out.encoding);

	*first = draft->address;
	*last =
	    draft->address +
	    (register_packs(draft->out.table, draft->out.encoding) ? 1 : registers) - 1;
}

/* A value in the channel's unit, as SI; `untold` when there is none. */
static double
level(const struct channel_settings *channel, double value, double untold)
{
	return isnan(value) ? untold
	                    : unit_to_si(channel->unit, channel->dimension, value);
}

void
channel_make(const struct part *part, int i, struct channel_settings *channel)
{
	const struct channel_draft *draft = &part->as.channel;
	int address = draft->address;

	*channel = draft->out;
	if (draft->order >= 0)
		channel->order = (enum word_order)draft->order;
	if (draft->count > 1)
		snprintf(channel->name, sizeof channel->name, "%.40s_%d",
		    draft->out.name, i + (channel->position ? channel->position : 1));
	if (channel->position)
		channel->position += i;
	if (channel->bit >= 0)
		channel->bit += i;
	else
		address += i * register_width(channel->encoding);
	channel->address = (uint16_t)address;
	channel->period_s = pace_period_s(part);
	channel->min_si = level(channel, draft->minimum, -INFINITY);
	channel->max_si = level(channel, draft->maximum, INFINITY);
	channel->on_si = level(channel, draft->on_at, NAN);
	channel->off_si = level(channel, draft->off_at, NAN);
}

void
channel_resolve(struct draft *draft, struct part *part)
{
	struct channel_draft *channel = &part->as.channel;
	const char *name = part->source->name, *dot = strchr(name, '.');
	char hint[DRAFT_HINT];

	if (!*name)
		return; /* noted already */
	if (!dot) {
		part_refuse(draft, part, NULL,
		    "%s names no device: write [channel DEVICE.%s]",
		    part->source->title, name);
		return;
	}
	if (!value_is_name(dot + 1, false) || strlen(dot + 1) > 40)
		part_refuse(draft, part, NULL,
		    "'%s' is no name of a channel: %swrite letters, digits, '-' and "
		    "'_' alone, 40 bytes at most",
		    dot + 1, value_name_advice(dot + 1));
	text_copy(channel->out.name, sizeof channel->out.name, dot + 1);
	snprintf(
	    channel->device, sizeof channel->device, "%.*s", (int)(dot - name), name);
	part->parent = draft_find(draft, SECTION_DEVICE, channel->device);
	if (part->parent)
		return;
	draft_hint(draft, SECTION_DEVICE, channel->device, hint);
	part_refuse(draft, part, NULL, "there is no [device %s] for %s%s",
	    channel->device, part->source->title,
	    *hint ? hint : ": write that section, or mend the name");
}

/* --- unit, range and sentinels ---------------------------------------------------- */

/* Of a channel that may have any unit: the first dimension that it measures. */
static enum dimension
dimension_of(enum unit unit)
{
	enum dimension dimension = DIMENSION_NONE;

	while (!unit_measures(unit, dimension))
		dimension++;
	return dimension;
}

static void
check_unit(struct draft *draft, struct part *part)
{
	struct channel_settings *channel = &part->as.channel.out;
	const struct role_traits *traits;
	char units[WORDS_TEXT];

	if (!part_sound(part, "role") || !part_sound(part, "unit"))
		return;
	traits = role_get(channel->role);
	channel->dimension = traits->dimension;
	if (traits->kind != ROLE_KIND_MEASURE)
		channel->dimension = dimension_of(channel->unit);
	if (traits->kind != ROLE_KIND_MEASURE)
		return;
	words_units(traits->dimension, "", units);
	if (!part_has(part, "unit"))
		part_refuse(draft, part, NULL,
		    "'unit' is missing in %s: write unit = %s", part->source->title,
		    units);
	else if (channel->unit == UNIT_KELVIN &&
		 traits->dimension == DIMENSION_TEMPERATURE)
		part_refuse(draft, part, "unit",
		    "'unit' is 'K': a temperature is in %s, write unit = C and "
		    "offset = -273.15 for K",
		    units);
	else if (!unit_measures(channel->unit, traits->dimension))
		part_refuse(draft, part, "unit",
		    "'unit' is '%s', which cannot measure a %s: write %s",
		    unit_text(channel->unit), role_text(channel->role), units);
}

/* What lies outside the range is no value, and never reached. */
static void
check_reach(struct draft *draft, struct part *part, const char *setting, double value)
{
	const struct channel_draft *channel = &part->as.channel;

	if (part_has(part, setting) && part_sound(part, setting) &&
	    (value < channel->minimum || value > channel->maximum))
		part_refuse(draft, part, setting,
		    "'%s' is '%s', outside 'minimum' to 'maximum', where no value can "
		    "be: mend one of them",
		    setting, section_entry(part->source, setting)->value);
}

static void
check_range(struct draft *draft, struct part *part)
{
	const struct channel_draft *channel = &part->as.channel;

	if (part_sound(part, "scale") && fpclassify(channel->out.scale) == FP_ZERO)
		part_refuse(draft, part, "scale",
		    "'scale' is 0, which makes every reading the same: write another");
	part_check_order(
	    draft, part, "minimum", channel->minimum, "maximum", channel->maximum);
	check_reach(draft, part, "on_at", channel->on_at);
	check_reach(draft, part, "off_at", channel->off_at);
}

static void
check_sentinels(struct draft *draft, struct part *part)
{
	struct channel_draft *channel = &part->as.channel;
	struct error error;

	if (!channel->sentinels || !part_sound(part, "type") ||
	    !part_sound(part, "sentinels"))
		return;
	if (list_sentinels(channel->sentinels, &channel->out, &error) != 0)
		part_refuse(draft, part, "sentinels", "'sentinels' is '%s': %s",
		    channel->sentinels, error.text);
}

/* --- where it lies ---------------------------------------------------------------- */

static void
check_positions(struct draft *draft, struct part *part)
{
	struct channel_draft *channel = &part->as.channel;
	const struct role_traits *traits;
	bool told = part_has(part, "position");

	if (!part_sound(part, "role") || !part_sound(part, "count") ||
	    !part_sound(part, "position"))
		return;
	traits = role_get(channel->out.role);
	if (!told)
		channel->out.position =
		    traits->positions && !(traits->common && channel->count == 1);
	if (traits->positions &&
	    channel->out.position + channel->count - 1 > traits->positions)
		part_refuse(draft, part, told ? "position" : "count",
		    "%s reaches position %d: a %s goes up to %d", part->source->title,
		    channel->out.position + channel->count - 1,
		    role_text(channel->out.role), traits->positions);
}

static void
check_addresses(struct draft *draft, struct part *part)
{
	const struct channel_draft *channel = &part->as.channel;
	int first, last;

	if (!part_sound(part, "count") || !part_sound(part, "address") ||
	    !part_sound(part, "table") || !part_sound(part, "type") ||
	    !part_sound(part, "bit"))
		return;
	channel_span(part, &first, &last);
	if (last > 65535)
		part_refuse(draft, part, "address",
		    "'address' leads to %s %d, but the last there can be is 65535: "
		    "write a lower one",
		    words_table.list[channel->out.table], last);
	if (channel->out.bit >= 0 && channel->out.bit + channel->count > 16)
		part_refuse(draft, part, "count",
		    "'count' leads to bit %d, but a register's last is 15: write a "
		    "section for each register",
		    channel->out.bit + channel->count - 1);
}

/* Against what its device can give. */
static void
check_device(struct draft *draft, struct part *part)
{
	const struct channel_settings *channel = &part->as.channel.out;
	const struct device_settings *device;
	int first, last;

	if (part->bad || part->parent->bad)
		return;
	device = &part->parent->as.device.out;
	channel_span(part, &first, &last);
	if (register_width(channel->encoding) > device->max_registers)
		part_refuse(draft, part, "type",
		    "'type' is '%s', two registers, but 'max_registers' of %s is 1: "
		    "write 2 or more there",
		    words_encoding.list[channel->encoding],
		    part->parent->source->title);
	for (int i = 0; i < device->hole_count; i++) {
		const struct hole *hole = device->holes + i;

		if (hole->table != channel->table || hole->last < first ||
		    hole->first > last)
			continue;
		part_refuse(draft, part, "address",
		    "%s takes %s %d to %d, but %s has a hole from %d to %d: mend "
		    "'address' here, or 'holes' there",
		    part->source->title, words_table.list[channel->table], first, last,
		    part->parent->source->title, hole->first, hole->last);
		return;
	}
}

void
channel_check(struct draft *draft, struct part *part)
{
	channel_type_check(draft, part);
	check_unit(draft, part);
	check_range(draft, part);
	check_sentinels(draft, part);
	check_positions(draft, part);
	check_addresses(draft, part);
	places_check_channel(draft, part);
	pace_check(draft, part);
	check_device(draft, part);
}
