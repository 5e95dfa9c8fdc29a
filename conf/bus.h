/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What devices hang on: [bus NAME] sections, and the end points that devices name
 * themselves.  For one thread; only within conf/.
 */
#ifndef CONF_BUS_H
#define CONF_BUS_H

struct device_settings;
struct draft;
struct part;
struct settings;

/* Notes what does not go together in a [bus NAME], and completes it. */
void bus_check(struct draft *draft, struct part *part);

/* After bus_check of all: asks the system which ports there are now, and notes two names of
 * one. */
void bus_look_at_ports(struct draft *draft);

/* Notes what does not go together in a device that has found its bus. */
void bus_check_device(struct draft *draft, struct part *device);

/* Gives the device its bus, a new one or that of a device before; settings->buses has
 * room for one a device and one a section. */
void bus_fill(
    struct settings *settings, const struct part *part, struct device_settings *device);

/* Puts the buses that no device is on behind the others. */
void bus_fill_idle(struct settings *settings, const struct draft *draft);

#endif
