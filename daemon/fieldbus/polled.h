/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a poller polls: the devices of its bus that have channels, their groups, and how
 * they have answered.  It reaches no link and no clock.  One object belongs to one thread.
 */
#ifndef DAEMON_FIELDBUS_POLLED_H
#define DAEMON_FIELDBUS_POLLED_H

#include "daemon/fieldbus/lateness.h"
#include "daemon/fieldbus/poller.h"
#include "daemon/fieldbus/standing.h"
#include "daemon/base/error.h"

struct missing;
struct agenda;
struct device_settings;
struct frozen;
struct read_plan;
struct scanner;
struct silence;

struct polled_device {
	const struct device_settings *settings;
	size_t unit; /* of the bus's silence: sections with one unit id share it */
	struct frozen *frozen;
	struct missing *missing;
	struct standing standing;
	struct error why; /* of the last failure */
	bool unasked;     /* a scan failed without a request since the last answer */
	struct lateness lateness;
	struct device_status status; /* but for what follows from the lateness */
	struct polled_group *groups;
	size_t group_count;
};

struct polled_group {
	struct polled_device *device;
	struct scanner *scanner;
	bool at_heat;
	enum scan_outcome outcome; /* of its last scan */
};

struct polled_bus {
	struct read_plan **plans; /* by device of the settings; NULL: not polled here */
	size_t plan_count;
	struct polled_device *devices;
	size_t device_count;
	struct polled_group *groups; /* a task each; those of a device together */
	size_t group_count;
	struct agenda *agenda;
	struct silence *silence;
	int64_t fastest_ns; /* the shortest period */
};

/* `settings` must outlive it.  NULL when memory is short. */
struct polled_bus *polled_new(const struct settings *settings, uint32_t bus);
void polled_free(struct polled_bus *bus);

/* Everything is due now. */
void polled_start(struct polled_bus *bus, struct mono now);

/* The schedule's time that the group's turn at `now` is of, not more than the bus's
 * fastest period ago. */
struct mono polled_due(
    const struct polled_bus *bus, const struct polled_group *group, struct mono now);

/* All other groups of the unit that are silent are wanted at once. */
void polled_want_unit(
    struct polled_bus *bus, size_t unit, const struct polled_group *but);

/* Groups with at_heat of these lines, a bit each, are wanted at once. */
void polled_want_lines(struct polled_bus *bus, uint64_t lines);

/* A scan of the schedule began so late. */
void polled_note_late(struct polled_group *group, struct mono now, int64_t late_ns);

/* Takes the outcome of a scan in; returns what it makes of the device: silent when this
 * one was, in part when that is so of any of its groups. */
enum scan_outcome polled_note_outcome(
    struct polled_group *group, enum scan_outcome outcome);

struct device_status polled_status(const struct polled_device *device);

#endif
