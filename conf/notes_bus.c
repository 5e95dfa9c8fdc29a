/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/notes_bus.h"

#include <math.h>

#include "conf/alike.h"
#include "conf/note.h"
#include "conf/role.h"
#include "conf/settings.h"

/* Common practice, no source. */
enum { HEAT_READINGS = 4 };

/* An earlier section of the same unit, or NULL; those of different lines are needed, since a
 * device is of one line. */
static const struct device_settings *
find_twin(const struct settings *settings, size_t at)
{
	const struct device_settings *device = &settings->devices[at];

	for (size_t i = 0; i < at; i++) {
		const struct device_settings *other = &settings->devices[i];

		if (other->bus == device->bus && other->unit_id == device->unit_id &&
		    other->line == device->line)
			return other;
	}
	return NULL;
}

/* On a serial line it is two devices as a rule, one of which was left as it was delivered; in
 * the network sections that read a device's channels at different periods. */
static void
tell_unit(const struct notes *notes, size_t at)
{
	const struct device_settings *device = &notes->settings->devices[at];
	const struct device_settings *twin = find_twin(notes->settings, at);
	const struct bus_settings *bus = &notes->settings->buses[device->bus];

	if (!twin)
		return;
	if (bus->kind == BUS_SERIAL)
		note(notes,
		    "devices %s and %s are both unit %d on %s: two devices of one "
		    "number garble each other: set another at one of them; if it is "
		    "one device, write one section, and 'period_ms' for what is read "
		    "less often",
		    twin->name, device->name, device->unit_id, bus->name);
	else
		note(notes,
		    "devices %s and %s are both unit %d on %s: if that is one device, "
		    "write one section, where channels have a 'period_ms' of their "
		    "own; if it is two, each answers into the other's answer",
		    twin->name, device->name, device->unit_id, bus->name);
}

static void
tell_idle(const struct notes *notes)
{
	const struct settings *settings = notes->settings;

	for (size_t i = 0; i < settings->idle_bus_count; i++)
		note(notes, "bus %s: no device is on it: it is not opened",
		    settings->buses[settings->bus_count + i].name);
}

static void
tell_alone(const struct notes *notes, const struct channel_settings *channel)
{
	if (channel->frozen_after_s > 0 && !alike_has_any(notes->settings, channel))
		note(notes,
		    "channel %s.%s: 'frozen_after_s' holds it against others of its "
		    "role, oven and side on its device, and there is none: it is never "
		    "found frozen",
		    notes->settings->devices[channel->device].name, channel->name);
}

/* Whether one before it would be told the same. */
static bool
is_told(const struct settings *settings, const struct channel_settings *channel)
{
	const struct channel_settings *other =
	    &settings->channels[settings->devices[channel->device].first_channel];

	for (; other < channel; other++)
		if (other->role == channel->role &&
		    !islessgreater(other->period_s, channel->period_s))
			return true;
	return false;
}

/* A figure needs several readings in the time that it is about. */
static void
tell_seldom(const struct notes *notes, const struct channel_settings *channel)
{
	const struct device_settings *device =
	    &notes->settings->devices[channel->device];
	double heat_s = notes->settings->lines[device->line].heat_max_s;

	if (role_get(channel->role)->kind != ROLE_KIND_MEASURE ||
	    channel->role == ROLE_STACK || channel->role == ROLE_AMBIENT ||
	    channel->period_s <= heat_s / HEAT_READINGS ||
	    is_told(notes->settings, channel))
		return;
	note(notes,
	    "channel %s.%s is read every %g s, but a heat is over in %g s: figures of "
	    "it will be missing; write a 'period_ms' of a few seconds",
	    device->name, channel->name, channel->period_s, heat_s);
}

void
notes_bus_tell(const struct notes *notes)
{
	const struct settings *settings = notes->settings;

	tell_idle(notes);
	for (size_t i = 0; i < settings->device_count; i++)
		tell_unit(notes, i);
	for (size_t i = 0; i < settings->channel_count; i++) {
		tell_alone(notes, &settings->channels[i]);
		tell_seldom(notes, &settings->channels[i]);
	}
}
