/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/recent.h"

#include <string.h>

static const int64_t hour_ns = 3600 * CLOCK_SECOND_NS;

static void
turn_hour(struct recent *recent, const struct ledger_device *device, struct mono now)
{
	struct recent_hour *hours = recent->hours;

	hours[1] = hours[0];
	hours[0].at = device->at;
	memcpy(hours[0].counts, device->counts, sizeof hours[0].counts);
	recent->hour_end.ns = now.ns + hour_ns;
}

void
recent_tell(struct recent *recent, struct ledger_device *device, struct mono now)
{
	const struct recent_hour *from = &recent->hours[1];

	if (recent->start.ns != device->since.ns) {
		*recent = (struct recent){
		    .start = device->since, .hour_end.ns = now.ns + hour_ns};
		recent->hours[0].at = recent->hours[1].at = device->since;
	}
	if (now.ns >= recent->hour_end.ns)
		turn_hour(recent, device, now);
	device->recent_since = from->at;
	for (int i = 0; i < LEDGER_COUNTS; i++)
		device->recent[i] = device->counts[i] - from->counts[i];
}
