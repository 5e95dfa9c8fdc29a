/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/alike.h"

#include "conf/settings.h"

bool
alike_are(const struct channel_settings *one, const struct channel_settings *other)
{
	return one != other && one->device == other->device &&
	       one->role == other->role && one->oven == other->oven &&
	       one->side == other->side && one->dimension == other->dimension &&
	       one->encoding != ENCODING_BIT && other->encoding != ENCODING_BIT;
}

bool
alike_has_any(const struct settings *settings, const struct channel_settings *channel)
{
	const struct device_settings *device = &settings->devices[channel->device];

	for (uint32_t i = 0; i < device->channel_count; i++)
		if (alike_are(channel, &settings->channels[device->first_channel + i]))
			return true;
	return false;
}
