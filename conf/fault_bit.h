/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The bits that say of channels that their sensors are broken.  For one thread; only
 * within conf/.
 */
#ifndef CONF_FAULT_BIT_H
#define CONF_FAULT_BIT_H

struct device_settings;
struct draft;
struct part;
struct settings;

/* Finds the bit that a channel names, notes what cannot be one; all channels checked for
 * themselves before. */
void fault_bit_check(struct draft *draft, struct part *channel);

/* Points the device's channels to their bits, once they stand in their groups. */
void fault_bit_fill(struct settings *settings, const struct draft *draft,
    const struct part *device, const struct device_settings *out);

#endif
