/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Channels beside one another: registers of a device, names on it, places on a line.
 * For one thread; only within conf/.
 */
#ifndef CONF_LAYOUT_H
#define CONF_LAYOUT_H

#include <stdbool.h>

struct draft;

/* After channel_check of every channel: notes overlaps, names and places taken twice,
 * gaps in positions and roles that are missing.  True when every channel is sound: only
 * then the lines' counts of positions are complete. */
bool layout_check(struct draft *draft);

#endif
