/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which channels a scan is of.  Pure; any thread.
 */
#ifndef DAEMON_SHOT_SCANNED_H
#define DAEMON_SHOT_SCANNED_H

#include "conf/settings.h"
#include "daemon/base/scan.h"

/* The channel, in settings->channels, of the scan's first reading. */
static inline uint32_t
scanned_first(const struct settings *settings, const struct scan *scan)
{
	return settings->devices[scan->device].first_channel + scan->first;
}

/* The channel's reading, or NULL when the scan has none of it. */
static inline const struct reading *
scanned_reading(
    const struct settings *settings, const struct scan *scan, uint32_t channel)
{
	uint32_t column = channel - scanned_first(settings, scan);

	return column < scan->count ? &scan->readings[column] : NULL;
}

/* The same when it is good, else NULL. */
static inline const struct reading *
scanned_good(const struct settings *settings, const struct scan *scan, uint32_t channel)
{
	const struct reading *reading = scanned_reading(settings, scan, channel);

	return reading != NULL && reading->quality == QUALITY_GOOD ? reading : NULL;
}

#endif
