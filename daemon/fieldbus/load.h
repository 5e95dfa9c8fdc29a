/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The time that reading takes on a bus, and whether the bus has it.  Pure.
 */
#ifndef DAEMON_FIELDBUS_LOAD_H
#define DAEMON_FIELDBUS_LOAD_H

#include <stdbool.h>
#include <stdint.h>

struct bus_settings;
struct device_settings;
struct read_block;
struct read_plan;
struct settings;

/* What a request over TCP and its answer take; with a gateway in between it is more.
 * Common practice, no source. */
#define LOAD_ROUND_TRIP_S 0.010

/*
 * From a request until the next one may go out, the device's gap included.  On a serial
 * line: the characters of both frames, the silence before each of them (3.5 characters;
 * above 19200 baud 1.75 ms: Modbus over Serial Line V1.02, 2.5.1.1), and 20 ms in which
 * the device makes its answer (common practice, no source).
 */
double load_request_s(const struct bus_settings *bus,
    const struct device_settings *device, const struct read_block *block);

/* All requests of a group of the plan's device. */
double load_group_s(
    const struct settings *settings, const struct read_plan *plan, int group);

/* What a second takes of all that hangs on a bus. */
struct bus_load {
	uint32_t devices;
	double requests;
	double busy_s;
};

/* `plans` are by device; NULL for one that does not count. */
struct bus_load load_bus(
    const struct settings *settings, struct read_plan *const *plans, uint32_t bus);

enum load_trouble {
	LOAD_IMPOSSIBLE, /* a serial line cannot do it */
	LOAD_LATE, /* readings will be late, now and then or if the assumed holds */
	LOAD_DEAF, /* and only while a unit does not answer: no trouble yet */
};

typedef void load_sink(void *arg, enum load_trouble trouble, const char *sentence);

/* Tells what the bus has no time for, and what helps; false when it is impossible. */
bool load_judge(const struct settings *settings, struct read_plan *const *plans,
    uint32_t bus, load_sink *sink, void *arg);

#endif
