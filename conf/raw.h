/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the bits of a channel's register mean: sentinel, sign, scale, unit, range.
 * The bus reads with it, and so does whoever reads a trace again under another set-up.
 * Pure; any thread.
 */
#ifndef CONF_RAW_H
#define CONF_RAW_H

#include "conf/settings.h"
#include "daemon/base/scan.h"

/*
 * `raw` is the register, both of a 32-bit value with the most significant first, or one
 * coil or discrete input (0 or 1).
 *
 * In this order: a raw value equal to a sentinel, or a float that is no finite
 * number, is sensor_fault; what then lies outside min_si..max_si, or is a temperature
 * below the absolute zero, is out_of_range.
 * Sentinels are compared with the whole register (32 bits of two), before sign,
 * scale and bit number.  The reading carries `raw` in every case.
 */
struct reading raw_reading(const struct channel_settings *channel, uint32_t raw);

/* Whether these bits are one of the channel's sentinels. */
bool raw_is_sentinel(const struct channel_settings *channel, uint32_t raw);

/*
 * Lets a fault bit speak of a channel:
 *
 * - while the bit is good and 1, what was read is sensor_fault;
 * - while the bit is not good nobody vouches for the channel: a good reading gets the
 *   bit's quality.
 *
 * What was not read (stale, comm_fault) stays so, and so does what is absent by itself
 * beside a bit that is not good.  Raw bits are kept.
 */
void raw_apply_fault(struct reading *reading, const struct reading *bit);

/* Does so, once a scan is read whole, to each channel whose fault_channel lies in the same
 * scan.  Said again of the same scan, it changes nothing. */
void raw_apply_faults(const struct settings *settings, struct scan *scan);

#endif
