/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/channel.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "conf/draft.h"
#include "conf/list.h"
#include "conf/register.h"
#include "conf/role.h"
#include "conf/value.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

static bool
is_bit_of_register(const struct channel_settings *channel)
{
	return channel->encoding == ENCODING_BIT && !register_is_bit(channel->table);
}

void
channel_span(const struct part *part, int *first, int *last)
{
	const struct channel_draft *draft = &part->as.channel;
	int registers = draft->count * register_width(draft->out.encoding);

	*first = draft->address;
	*last = draft->address + (is_bit_of_register(&draft->out) ? 1 : registers) - 1;
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
	channel->min_si =
	    isnan(draft->minimum)
		? -INFINITY
		: unit_to_si(channel->unit, channel->dimension, draft->minimum);
	channel->max_si =
	    isnan(draft->maximum)
		? INFINITY
		: unit_to_si(channel->unit, channel->dimension, draft->maximum);
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

/* --- role, type and table --------------------------------------------------------- */

#define TYPE(name) (1U << ENCODING_##name)
#define WHOLE_TYPES (TYPE(INT16) | TYPE(UINT16) | TYPE(INT32) | TYPE(UINT32))

static const struct {
	unsigned types;
	const char *what, *write;
} kinds[] = {
    [ROLE_KIND_BIT] = {TYPE(BIT), "a bit", "bit"},
    [ROLE_KIND_WORD] = {WHOLE_TYPES, "a whole number",
	"int16, uint16, int32 or uint32"},
    [ROLE_KIND_MEASURE] = {WHOLE_TYPES | TYPE(FLOAT32), "a measure",
	"int16, uint16, int32, uint32 or float32"},
    [ROLE_KIND_ANY] = {~0U, "anything", "any"},
};

static void
check_type(struct draft *draft, struct part *part)
{
	const struct channel_settings *channel = &part->as.channel.out;
	enum role_kind kind;

	if (!part_sound(part, "role") || !part_sound(part, "type"))
		return;
	kind = role_get(channel->role)->kind;
	if (!(kinds[kind].types & 1U << channel->encoding))
		part_refuse(draft, part, "type",
		    "'type' is '%s', but role %s is %s: write %s",
		    words_encoding.list[channel->encoding], role_text(channel->role),
		    kinds[kind].what, kinds[kind].write);
}

static void
check_table(struct draft *draft, struct part *part)
{
	const struct channel_settings *channel = &part->as.channel.out;
	const char *title = part->source->title;

	if (!part_sound(part, "type") || !part_sound(part, "table"))
		return;
	if (channel->encoding != ENCODING_BIT && register_is_bit(channel->table))
		part_refuse(draft, part, "table",
		    "'table' is '%s', which holds bits, but 'type' is '%s': write "
		    "holding or input, or type = bit",
		    words_table.list[channel->table],
		    words_encoding.list[channel->encoding]);
	else if (is_bit_of_register(channel) && !part_has(part, "bit"))
		part_refuse(draft, part, NULL,
		    "'bit' is missing in %s: write bit = 0 to 15, 0 the least "
		    "significant",
		    title);
	else if (part_has(part, "bit") && !is_bit_of_register(channel))
		part_refuse(draft, part, "bit",
		    "'bit' is for a bit of a register, which %s is not: leave it out",
		    title);
	if (register_width(channel->encoding) == 2 && !part_has(part, "word_order"))
		part_refuse(draft, part, NULL,
		    "'word_order' is missing in %s: write abcd, badc, cdab or dcba",
		    title);
	else if (register_width(channel->encoding) == 1 && part_has(part, "word_order"))
		part_refuse(draft, part, "word_order",
		    "'word_order' is for 32 bits, but 'type' is '%s': leave it out",
		    words_encoding.list[channel->encoding]);
}

/* --- settings that only some channels have ---------------------------------------- */

enum {
	FOR_BIT = 1 << 0,
	FOR_WORD = 1 << 1,
	FOR_MEASURE = 1 << 2,
	FOR_ZONE = 1 << 3,
	FOR_POSITIONS = 1 << 4,
	FOR_ROW = 1 << 5,
};

static const struct {
	const char *setting;
	unsigned uses;
} owned[] = {
    {"inverted", FOR_BIT},
    {"debounce_ms", FOR_BIT},
    {"sentinels", FOR_WORD | FOR_MEASURE},
    {"scale", FOR_MEASURE},
    {"offset", FOR_MEASURE},
    {"unit", FOR_MEASURE},
    {"minimum", FOR_MEASURE},
    {"maximum", FOR_MEASURE},
    {"rated_kw", FOR_ZONE},
    {"position", FOR_POSITIONS},
    {"count", FOR_POSITIONS | FOR_ROW},
};

static unsigned
uses_of(const struct channel_settings *channel)
{
	const struct role_traits *traits = role_get(channel->role);
	unsigned uses = 0;

	switch (traits->kind) {
	case ROLE_KIND_BIT:
		uses = FOR_BIT;
		break;
	case ROLE_KIND_WORD:
		uses = FOR_WORD;
		break;
	case ROLE_KIND_MEASURE:
		uses = FOR_MEASURE;
		break;
	case ROLE_KIND_ANY:
		uses = FOR_ROW |
		       (channel->encoding == ENCODING_BIT ? FOR_BIT : FOR_MEASURE);
		break;
	}
	if (channel->role == ROLE_ZONE_TOP || channel->role == ROLE_ZONE_BOTTOM)
		uses |= FOR_ZONE;
	return uses | (traits->positions ? FOR_POSITIONS : 0);
}

static void
check_owned(struct draft *draft, struct part *part)
{
	const struct channel_settings *channel = &part->as.channel.out;
	unsigned uses;

	if (!part_sound(part, "role") || !part_sound(part, "type"))
		return;
	uses = uses_of(channel);
	for (size_t i = 0; i < sizeof owned / sizeof owned[0]; i++)
		if (part_has(part, owned[i].setting) && !(uses & owned[i].uses))
			part_refuse(draft, part, owned[i].setting,
			    "'%s' means nothing to a channel of role %s%s: leave it "
			    "out",
			    owned[i].setting, role_text(channel->role),
			    channel->role == ROLE_OTHER ? " and this type" : "");
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
	if (traits->kind == ROLE_KIND_ANY)
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
		    "'unit' is 'K': a temperature is in %s", units);
	else if (!unit_measures(channel->unit, traits->dimension))
		part_refuse(draft, part, "unit",
		    "'unit' is '%s', which cannot measure a %s: write %s",
		    unit_text(channel->unit), role_text(channel->role), units);
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
	check_type(draft, part);
	check_table(draft, part);
	check_owned(draft, part);
	check_unit(draft, part);
	check_range(draft, part);
	check_sentinels(draft, part);
	check_positions(draft, part);
	check_addresses(draft, part);
	check_device(draft, part);
}
