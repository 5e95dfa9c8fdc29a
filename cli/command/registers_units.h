/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Who is on a bus: units of a range are asked for one register each, once.
 */
#ifndef CLI_COMMAND_REGISTERS_UNITS_H
#define CLI_COMMAND_REGISTERS_UNITS_H

#include "cli/command/command.h"

#include <stdbool.h>

struct registers_ask;
struct registers_bus;

/* Whether an option's text is meant as a range: "1..32". */
bool registers_units_is_range(const char *text);

/* Reads it; COMMAND_USAGE after telling. */
enum command_exit registers_units_parse(
    const struct call *call, const char *text, int *first, int *last);

/*
 * Asks ask->device.unit_id to ask->unit_last, which the bus must have as its device, and
 * shows who answers.  Says before how long it can take.  COMMAND_NO: nobody does.
 */
enum command_exit registers_units_run(
    const struct call *call, struct registers_ask *ask, struct registers_bus *bus);

#endif
