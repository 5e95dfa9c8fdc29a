/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A device that a command reads itself, beside the daemon: connected when it is needed;
 * and what to do when it does not answer, for whoever stands at the machine.
 *
 * One object belongs to one thread.
 */
#ifndef CLI_COMMAND_REGISTERS_BUS_H
#define CLI_COMMAND_REGISTERS_BUS_H

#include "daemon/fieldbus/answer.h"
#include "daemon/fieldbus/limit.h"
#include "daemon/fieldbus/plan.h"

#include <stdbool.h>

struct bus_settings;
struct device_settings;
struct error;
struct link;

struct registers_bus {
	const struct bus_settings *bus;       /* lent */
	const struct device_settings *device; /* lent; its unit_id, timeout_s, gap_s */
	struct link *link;                    /* NULL: memory was short */
	bool opened;        /* the last answer came over a connection or an open port */
	int open_result;    /* of link_open; 0: it did, or was not called for */
	struct limit quiet; /* not asked before: the gap, a late answer of a serial line
	                          may come, or the device said that it is busy */
	double took_s; /* the last request and its answer, in the system's time ... */
	double slowest_s; /* ... and the slowest that was answered */
};

/* Lends both.  Release in either case. */
bool registers_bus_init(struct registers_bus *bus, const struct bus_settings *settings,
    const struct device_settings *device);
void registers_bus_release(struct registers_bus *bus);

/* A survey_port's read; `arg` is a struct registers_bus. */
enum answer registers_bus_read(
    void *arg, const struct read_block *block, uint16_t *words, struct error *error);

/* Adds to the sentence of a read that was not good what to look at. */
void registers_bus_advise(
    const struct registers_bus *bus, enum answer answer, struct error *error);

#endif
