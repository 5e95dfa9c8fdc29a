/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * When the channels of a device are read.  For one thread; only within conf/.
 */
#ifndef CONF_PACE_H
#define CONF_PACE_H

struct draft;
struct part;

/* At which period a channel that has found its device is read: its own, that of what is
 * read as a heat begins, or the device's; NAN where none of them is sound. */
double pace_period_s(const struct part *channel);

/* The part that would tell this period: the channel, if it does, else its device. */
struct part *pace_teller(struct part *channel);

/* Notes what is not read as a heat begins, and what cannot be frozen. */
void pace_check(struct draft *draft, struct part *channel);

/* Notes the first channel that makes one period too many of its device. */
void pace_check_devices(struct draft *draft);

#endif
