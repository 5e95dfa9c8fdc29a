/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The groups in which a device's channels are read.  Pure; any thread.
 */
#ifndef CONF_GROUPS_H
#define CONF_GROUPS_H

#include <stdbool.h>

struct channel_settings;
struct device_settings;

/*
 * Sorts the device's channels (`channels` are those of all devices) by their periods, those
 * read as a heat begins last, in order otherwise; one whose period is 0 gets the device's.
 * Fills device->groups.  False, and the groups are those of the first periods, when there
 * are more than SETTINGS_GROUPS.  Set fault_channel afterwards.
 */
bool groups_make(struct device_settings *device, struct channel_settings *channels);

#endif
