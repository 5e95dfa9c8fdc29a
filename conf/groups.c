/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/groups.h"

#include "conf/settings.h"

/* Whether one is read before the other. */
static bool
is_before(const struct channel_settings *one, const struct channel_settings *other)
{
	if (one->at_heat != other->at_heat)
		return other->at_heat;
	return one->period_s < other->period_s;
}

static bool
is_of(const struct group_settings *group, const struct channel_settings *channel)
{
	return group->at_heat == channel->at_heat &&
	       group->period_s == channel->period_s;
}

/* By insertion: it keeps the order of alike ones, and most are in order. */
static void
sort(struct channel_settings *channels, uint32_t count)
{
	for (uint32_t i = 1; i < count; i++) {
		struct channel_settings moved = channels[i];
		uint32_t place = i;

		for (; place > 0 && is_before(&moved, &channels[place - 1]); place--)
			channels[place] = channels[place - 1];
		channels[place] = moved;
	}
}

bool
groups_make(struct device_settings *device, struct channel_settings *channels)
{
	struct channel_settings *own = channels + device->first_channel;
	struct group_settings *group = NULL;

	for (uint32_t i = 0; i < device->channel_count; i++)
		if (own[i].period_s == 0)
			own[i].period_s = device->period_s;
	sort(own, device->channel_count);
	device->group_count = 0;
	for (uint32_t i = 0; i < device->channel_count; i++) {
		if (!group || !is_of(group, &own[i])) {
			if (device->group_count == SETTINGS_GROUPS)
				return false;
			group = &device->groups[device->group_count++];
			*group = (struct group_settings){.first = i,
			    .period_s = own[i].period_s,
			    .at_heat = own[i].at_heat};
		}
		group->count++;
	}
	return true;
}
