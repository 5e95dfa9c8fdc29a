/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which channels see the same: what stands still is held against those.  Pure; any thread.
 */
#ifndef CONF_ALIKE_H
#define CONF_ALIKE_H

#include <stdbool.h>

struct channel_settings;
struct settings;

/* Whether two channels are measures of one device and one role, oven and side (and of one
 * quantity, since role other is of anything).  No channel is like itself. */
bool alike_are(
    const struct channel_settings *one, const struct channel_settings *other);

/* Whether the device has another channel like this one, of settings->channels. */
bool alike_has_any(
    const struct settings *settings, const struct channel_settings *channel);

#endif
