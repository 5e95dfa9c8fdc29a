/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/pace.h"

#include <math.h>

#include "conf/draft.h"
#include "conf/role.h"

/* What is read as a heat begins is read besides this often, so that a look at it is not
 * of last week.  Common practice, no source. */
static const double at_heat_period_s = 60;

/* Fewer polls than these are no stillness. */
enum { FROZEN_POLLS = 3 };

static bool
is_at_heat(const struct part *channel)
{
	return part_sound(channel, "at_heat") && channel->as.channel.out.at_heat;
}

double
pace_period_s(const struct part *channel)
{
	const struct part *device = channel->parent;

	if (part_has(channel, "period_ms"))
		return part_sound(channel, "period_ms")
		           ? channel->as.channel.out.period_s
		           : NAN;
	if (is_at_heat(channel))
		return at_heat_period_s;
	return part_sound(device, "period_ms") ? device->as.device.out.period_s : NAN;
}

struct part *
pace_teller(struct part *channel)
{
	return part_has(channel, "period_ms") ? channel : channel->parent;
}

/* --- one channel -------------------------------------------------------------------- */

static void
check_at_heat(struct draft *draft, struct part *part)
{
	enum role role = part->as.channel.out.role;

	if (!is_at_heat(part) || !part_sound(part, "role") || role == ROLE_SET_POINT ||
	    role == ROLE_OTHER)
		return;
	part_refuse(draft, part, "at_heat",
	    "'at_heat' is for set points and what no figure is made of, but a channel "
	    "of role %s is followed all the time: leave it out, and write 'period_ms' "
	    "where the device's is too short",
	    role_text(role));
}

/* What has a measure of its own that always moves a little. */
static bool
can_freeze(const struct channel_settings *channel)
{
	enum role_kind kind = role_get(channel->role)->kind;

	return channel->encoding != ENCODING_BIT && channel->role != ROLE_SET_POINT &&
	       (kind == ROLE_KIND_MEASURE || kind == ROLE_KIND_ANY);
}

static void
check_frozen(struct draft *draft, struct part *part)
{
	const struct channel_settings *channel = &part->as.channel.out;
	double period_s, least_s;

	if (!part_has(part, "frozen_after_s") || !part_sound(part, "frozen_after_s") ||
	    !part_sound(part, "role") || !part_sound(part, "type"))
		return;
	if (!can_freeze(channel)) {
		part_refuse(draft, part, "frozen_after_s",
		    "'frozen_after_s' is for measures, which never stand still for "
		    "long, but %s is none: leave it out",
		    part->source->title);
		return;
	}
	period_s = part->parent ? pace_period_s(part) : NAN;
	least_s = ceil(FROZEN_POLLS * period_s);
	if (channel->frozen_after_s > 0 && channel->frozen_after_s < least_s)
		part_refuse(draft, part, "frozen_after_s",
		    "'frozen_after_s' is '%s', but %s is read every %g s: write %g or "
		    "more",
		    section_entry(part->source, "frozen_after_s")->value,
		    part->source->title, period_s, least_s);
}

void
pace_check(struct draft *draft, struct part *channel)
{
	check_at_heat(draft, channel);
	check_frozen(draft, channel);
}

/* --- all of a device ---------------------------------------------------------------- */

struct paces {
	struct {
		double period_s;
		bool at_heat;
	} list[SETTINGS_GROUPS];
	int count;
};

/* False when there is no room for one more. */
static bool
take(struct paces *paces, double period_s, bool at_heat)
{
	for (int i = 0; i < paces->count; i++)
		if (!islessgreater(paces->list[i].period_s, period_s) &&
		    paces->list[i].at_heat == at_heat)
			return true;
	if (paces->count == SETTINGS_GROUPS)
		return false;
	paces->list[paces->count].period_s = period_s;
	paces->list[paces->count++].at_heat = at_heat;
	return true;
}

static void
check_device(struct draft *draft, const struct part *device)
{
	struct part *channel = NULL;
	struct paces paces = {.count = 0};

	while ((channel = draft_next(draft, SECTION_CHANNEL, channel)) != NULL) {
		double period_s;

		if (channel->parent != device || channel->bad)
			continue;
		period_s = pace_period_s(channel);
		if (isnan(period_s) || take(&paces, period_s, is_at_heat(channel)))
			continue;
		part_refuse(draft, channel, "period_ms",
		    "%s is read every %g s%s, which makes more than %d different "
		    "periods of %s: let some of its channels have the same",
		    channel->source->title, period_s,
		    is_at_heat(channel) ? " and as a heat begins" : "", SETTINGS_GROUPS,
		    device->source->title);
		return;
	}
}

void
pace_check_devices(struct draft *draft)
{
	const struct part *device = NULL;

	while ((device = draft_next(draft, SECTION_DEVICE, device)) != NULL)
		check_device(draft, device);
}
