/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What `registers` is asked for: which registers of which device, and what somebody
 * expects there.  The options' ranges and sentences are the configuration's.
 */
#ifndef CLI_COMMAND_REGISTERS_ASK_H
#define CLI_COMMAND_REGISTERS_ASK_H

#include "cli/command/command.h"
#include "cli/command/registers_decode.h"
#include "conf/settings.h"

/* Where the device is, how it is read. */
#define REGISTERS_WHERE_OPTIONS                                   \
	(OPTION_BIT(OPTION_ADDRESS) | OPTION_BIT(OPTION_PORT) |   \
	    OPTION_BIT(OPTION_BAUD) | OPTION_BIT(OPTION_PARITY) | \
	    OPTION_BIT(OPTION_STOP_BITS))
#define REGISTERS_HOW_OPTIONS                                      \
	(OPTION_BIT(OPTION_UNIT) | OPTION_BIT(OPTION_TIMEOUT_MS) | \
	    OPTION_BIT(OPTION_GAP_MS) | OPTION_BIT(OPTION_MAX_REGISTERS))
#define REGISTERS_ASK_OPTIONS                                                          \
	(REGISTERS_WHERE_OPTIONS | REGISTERS_HOW_OPTIONS | OPTION_BIT(OPTION_DEVICE) | \
	    OPTION_BIT(OPTION_TABLE) | OPTION_BIT(OPTION_FIRST) |                      \
	    OPTION_BIT(OPTION_HOW_MANY) | OPTION_BIT(OPTION_DOCUMENT) |                \
	    OPTION_BIT(OPTION_EXPECT) | OPTION_BIT(OPTION_AGAIN))

struct registers_ask {
	const struct settings *settings; /* lent; NULL: not of a configuration */
	int64_t configured;              /* the device in the settings; -1: of none */
	struct bus_settings bus;
	struct device_settings device;
	int unit_last; /* units from the device's to this one are looked for; 0: not */
	enum register_table table;
	uint16_t first;
	uint32_t count;
	bool single; /* one register is looked at; the next one is read for 32 bits */
	struct registers_expect expect;
	uint32_t again;  /* readings in all: 1 at least */
	bool documented; /* asked for in the document's way */
};

/* Of the options; `settings` may be NULL where no --device is given.  COMMAND_USAGE after
 * telling. */
enum command_exit registers_ask_read(struct registers_ask *ask, const struct call *call,
    const struct settings *settings);

/* The index of the device that --device names, -1 when it is not given; COMMAND_USAGE
 * after telling when there is none. */
enum command_exit registers_ask_device(
    const struct call *call, const struct settings *settings, int64_t *device);

#endif
