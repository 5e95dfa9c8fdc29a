/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * From registers as they come on the wire to a reading: the order of words and bytes;
 * what their bits mean is conf/raw's.  Pure; any thread.
 */
#ifndef DAEMON_FIELDBUS_DECODE_H
#define DAEMON_FIELDBUS_DECODE_H

#include "conf/settings.h"
#include "daemon/base/scan.h"

/*
 * The reading in `words`: the channel's register, both of a 32-bit value, or one
 * coil or discrete input (0 or 1).  The word order is that of 32-bit values; single
 * registers come as they are.
 */
struct reading decode_reading(
    const struct channel_settings *channel, const uint16_t *words);

#endif
