/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * From registers to a reading: byte order, sentinel, sign, scale, unit, range.
 * Pure; any thread.
 */
#ifndef DAEMON_FIELDBUS_DECODE_H
#define DAEMON_FIELDBUS_DECODE_H

#include "conf/settings.h"
#include "daemon/base/scan.h"

/*
 * The reading in `words`: the channel's register, both of a 32-bit value, or one
 * coil or discrete input (0 or 1).  The word order is that of 32-bit values; single
 * registers come as they are.
 *
 * In this order: a raw value equal to a sentinel, or a float that is no finite
 * number, is sensor_fault; what then lies outside min_si..max_si is out_of_range.
 * Sentinels are compared with the whole register (32 bits of two), before sign,
 * scale and bit number.
 */
struct reading decode_reading(
    const struct channel_settings *channel, const uint16_t *words);

#endif
