/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The part of one [channel DEVICE.NAME]: what goes together in it, and the channels
 * that it stands for.  For one thread; only within conf/.
 */
#ifndef CONF_CHANNEL_H
#define CONF_CHANNEL_H

#include <stdint.h>

struct channel_settings;
struct draft;
struct part;

/* Splits the section's name and finds the device. */
void channel_resolve(struct draft *draft, struct part *part);

/* Notes what does not go together, and completes the draft: dimension, position,
 * oven, side, sentinels. */
void channel_check(struct draft *draft, struct part *part);

/* The registers, or coils, that all channels of a sound part take; last may be
 * past 65535 in a part that is bad. */
void channel_span(const struct part *part, int *first, int *last);

/* Channel `i`, from 0, of a sound part; what ends in _si among it, device not. */
void channel_make(const struct part *part, int i, struct channel_settings *channel);

#endif
