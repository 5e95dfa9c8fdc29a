/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Channels beside one another: registers of a device, names on it, places on a line.
 * For one thread; only within conf/.
 */
#ifndef CONF_LAYOUT_H
#define CONF_LAYOUT_H

struct draft;

/* After channel_check of every channel: notes overlaps, names and places taken twice,
 * gaps in positions and roles that are missing; completes the lines' counts. */
void layout_check(struct draft *draft);

#endif
