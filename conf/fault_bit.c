/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/fault_bit.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "conf/channel.h"
#include "conf/draft.h"
#include "conf/pace.h"
#include "conf/words.h"
#include "daemon/base/text.h"

/* --- finding ------------------------------------------------------------------------ */

/* Whether `name` is that of channel `*index` of a row, such as broken_3. */
static bool
is_of_row(const struct part *row, const char *name, int *index)
{
	const struct channel_draft *channel = &row->as.channel;
	size_t length = strlen(channel->out.name);
	int first = channel->out.position > 0 ? channel->out.position : 1;
	int64_t number;

	if (channel->count < 2 || strncmp(name, channel->out.name, length) != 0 ||
	    name[length] != '_' || !text_integer(name + length + 1, &number) ||
	    number < first || number >= first + channel->count)
		return false;
	*index = (int)number - first;
	return true;
}

/* The section of the device that makes a channel or a row of that name, or NULL; of one
 * of a row its place there, else -1. */
static const struct part *
find(const struct draft *draft, const struct part *device, const char *name, int *index)
{
	const struct part *part = NULL;

	*index = -1;
	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL)
		if (part->parent == device &&
		    strcmp(part->as.channel.out.name, name) == 0)
			return part;
	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL)
		if (part->parent == device && is_of_row(part, name, index))
			return part;
	return NULL;
}

/* What stands behind the device's name, where the name begins with that. */
static const char *
without_device(const struct part *device, const char *name)
{
	size_t length = strlen(device->source->name);

	return strncmp(name, device->source->name, length) == 0 && name[length] == '.'
	           ? name + length + 1
	           : name;
}

/* The channel that the name means, of another device or with its device before it; NULL when
 * there is none. */
static const struct part *
find_elsewhere(const struct draft *draft, const char *name)
{
	const struct part *part = NULL;

	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL) {
		const char *bare;
		int index;

		if (!part->parent)
			continue;
		bare = without_device(part->parent, name);
		if (strcmp(part->as.channel.out.name, bare) == 0 ||
		    is_of_row(part, bare, &index))
			return part;
	}
	return NULL;
}

static void
refuse_elsewhere(struct draft *draft, struct part *part, const struct part *bit)
{
	if (bit->parent == part->parent)
		part_refuse(draft, part, "fault_bit",
		    "'fault_bit' is '%s': write it without the device, '%s'",
		    part->as.channel.fault_bit,
		    without_device(bit->parent, part->as.channel.fault_bit));
	else
		part_refuse(draft, part, "fault_bit",
		    "'fault_bit' is '%s', which is of %s: the bit must be of the same "
		    "device, %s, so that both are read together",
		    part->as.channel.fault_bit, bit->parent->source->title,
		    part->parent->source->title);
}

static void
refuse_unknown(struct draft *draft, struct part *part)
{
	const char *names[SETTINGS_POSITIONS], *near;
	const struct part *other = find_elsewhere(draft, part->as.channel.fault_bit);
	size_t count = 0;

	if (other) {
		refuse_elsewhere(draft, part, other);
		return;
	}
	while (count < SETTINGS_POSITIONS &&
	       (other = draft_next(draft, SECTION_CHANNEL, other)) != NULL)
		if (other->parent == part->parent && other != part &&
		    other->as.channel.out.encoding == ENCODING_BIT)
			names[count++] = other->as.channel.out.name;
	near = text_nearest(part->as.channel.fault_bit, names, count);
	if (near)
		part_refuse(draft, part, "fault_bit",
		    "'fault_bit' is '%s', but %s has no such channel; did you mean "
		    "'%s'?",
		    part->as.channel.fault_bit, part->parent->source->title, near);
	else
		part_refuse(draft, part, "fault_bit",
		    "'fault_bit' is '%s', but %s has no such channel: write a [channel "
		    "%s.%s] of type bit",
		    part->as.channel.fault_bit, part->parent->source->title,
		    part->parent->source->name, part->as.channel.fault_bit);
}

/* --- what can be one ---------------------------------------------------------------- */

static void
pace_text(const struct part *channel, char text[static 64])
{
	snprintf(text, 64, "every %g s%s", pace_period_s(channel),
	    channel->as.channel.out.at_heat ? " and as a heat begins" : "");
}

/* A scan is of one group: a bit of another would be of another time. */
static void
check_group(struct draft *draft, struct part *part, const struct part *bit)
{
	double period_s = pace_period_s(part), other_s = pace_period_s(bit);
	char pace[64], other[64];

	if (!islessgreater(period_s, other_s) &&
	    part->as.channel.out.at_heat == bit->as.channel.out.at_heat)
		return;
	pace_text(part, pace);
	pace_text(bit, other);
	part_refuse(draft, part, "fault_bit",
	    "'fault_bit' is '%s', which is read %s, but %s %s: give both the same "
	    "'period_ms' and 'at_heat', so that they are read together",
	    part->as.channel.fault_bit, other, part->source->title, pace);
}

static void
check_target(struct draft *draft, struct part *part, const struct part *bit)
{
	const struct channel_draft *channel = &part->as.channel;
	const struct channel_draft *target = &bit->as.channel;

	if (bit == part)
		part_refuse(draft, part, "fault_bit",
		    "'fault_bit' is '%s', the channel itself: name the bit that tells "
		    "when it is broken, or leave it out",
		    channel->fault_bit);
	else if (target->out.encoding != ENCODING_BIT)
		part_refuse(draft, part, "fault_bit",
		    "'fault_bit' is '%s', whose type is '%s': name a channel of type "
		    "bit",
		    channel->fault_bit, words_encoding.list[target->out.encoding]);
	else if (part_has(bit, "fault_bit"))
		part_refuse(draft, part, "fault_bit",
		    "'fault_bit' is '%s', which has a 'fault_bit' itself: leave it out "
		    "in one of them",
		    channel->fault_bit);
	else if (channel->fault_index < 0 && target->count > 1 &&
		 target->count != channel->count)
		part_refuse(draft, part, "fault_bit",
		    "'fault_bit' is '%s', a row of %d, but %s is %s%d: name a row of "
		    "as many, or one bit, such as %s_%d",
		    channel->fault_bit, target->count, part->source->title,
		    channel->count > 1 ? "a row of " : "", channel->count,
		    channel->fault_bit,
		    target->out.position > 0 ? target->out.position : 1);
	else
		check_group(draft, part, bit);
}

void
fault_bit_check(struct draft *draft, struct part *part)
{
	struct channel_draft *channel = &part->as.channel;

	if (!part_has(part, "fault_bit") || !part_sound(part, "fault_bit") || part->bad)
		return;
	channel->fault =
	    find(draft, part->parent, channel->fault_bit, &channel->fault_index);
	if (!channel->fault)
		refuse_unknown(draft, part);
	else if (!channel->fault->bad)
		check_target(draft, part, channel->fault);
}

/* --- settings ----------------------------------------------------------------------- */

/* Where the channels of a section begin; they stand together, whatever the groups. */
static uint32_t
first_of(const struct settings *settings, const struct device_settings *device,
    const struct part *part)
{
	struct channel_settings channel;
	uint32_t at = device->first_channel;

	channel_make(part, 0, &channel);
	while (strcmp(settings->channels[at].name, channel.name) != 0)
		at++;
	return at;
}

void
fault_bit_fill(struct settings *settings, const struct draft *draft,
    const struct part *device, const struct device_settings *out)
{
	const struct part *part = NULL;

	for (uint32_t i = 0; i < out->channel_count; i++)
		settings->channels[out->first_channel + i].fault_channel = -1;
	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL) {
		const struct channel_draft *channel = &part->as.channel;
		uint32_t own, bit, step;

		if (part->parent != device || !channel->fault)
			continue;
		own = first_of(settings, out, part);
		bit = first_of(settings, out, channel->fault);
		step = channel->fault_index < 0 && channel->fault->as.channel.count > 1;
		if (channel->fault_index > 0)
			bit += (uint32_t)channel->fault_index;
		for (uint32_t i = 0; i < (uint32_t)channel->count; i++)
			settings->channels[own + i].fault_channel =
			    (int32_t)(bit + i * step);
	}
}
