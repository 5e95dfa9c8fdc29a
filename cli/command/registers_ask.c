/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/registers_ask.h"

#include <stdio.h>
#include <string.h>

#include "cli/command/number_option.h"
#include "cli/command/registers_units.h"
#include "conf/register.h"
#include "conf/schema.h"
#include "conf/value.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/plan.h"

enum {
	COUNT_USUAL = 20,
	COUNT_MOST = 2000,
	AGAIN_MOST = 3600,
	ADDRESSES = 65536,
	PARTS_OF_BITS = 256, /* not all devices give more coils at once */
};

/* Between two requests of a device that nobody has described; common practice, no
 * source. */
#define GAP_USUAL_S 0.020

/* The option's value read as the setting of that name; nothing where it is not given. */
static enum command_exit
read_setting(const struct call *call, enum option_id option, enum section_kind section,
    const char *setting, void *place)
{
	const char *given = call->option[option];
	struct error error;

	if (!given ||
	    value_read(schema_find(section, setting), given, place, &error) == 0)
		return COMMAND_DONE;
	return command_usage(
	    call, "'--%s' is '%s': %s", option_table[option].name, given, error.text);
}

/* What the configuration has where a device does not tell it. */
static void
read_fallback(enum section_kind section, const char *name, void *place)
{
	const struct setting *setting = schema_find(section, name);

	value_read(setting, setting->fallback, place, NULL);
}

/* --- where ------------------------------------------------------------------------------ */

enum command_exit
registers_ask_device(
    const struct call *call, const struct settings *settings, int64_t *device)
{
	const char *name = call->option[OPTION_DEVICE];
	const char *names[SETTINGS_DEVICES];

	*device = -1;
	if (!name)
		return COMMAND_DONE;
	for (size_t i = 0; i < settings->device_count; i++) {
		names[i] = settings->devices[i].name;
		if (strcmp(names[i], name) == 0)
			*device = (int64_t)i;
	}
	if (*device >= 0)
		return COMMAND_DONE;
	const char *near = text_nearest(name, names, settings->device_count);
	if (near)
		return command_usage(
		    call, "there is no device '%s'; did you mean '%s'?", name, near);
	return command_usage(
	    call, "there is no device '%s' in %s", name, settings->path);
}

static enum command_exit
read_tcp(struct registers_ask *ask, const struct call *call)
{
	struct bus_settings *bus = &ask->bus;
	const char *colon;
	enum command_exit code;

	bus->kind = BUS_TCP;
	code = read_setting(call, OPTION_ADDRESS, SECTION_DEVICE, "address", bus);
	colon = strchr(bus->host, ':') ? "]" : "";
	snprintf(bus->name, sizeof bus->name, "%s%s%s:%d", *colon ? "[" : "", bus->host,
	    colon, bus->port);
	return code;
}

static enum command_exit
read_serial(struct registers_ask *ask, const struct call *call)
{
	struct bus_settings *bus = &ask->bus;
	enum command_exit code;

	bus->kind = BUS_SERIAL;
	if (!call->option[OPTION_BAUD])
		return command_usage(call,
		    "say how fast the line is, as set in the device: --baud 19200");
	if (!call->option[OPTION_UNIT])
		return command_usage(call, "say which device on the line: --unit 1 to "
					   "247, as it is set there");
	read_fallback(SECTION_BUS, "parity", &bus->parity);
	bus->stop_bits = 0;
	if ((code = read_setting(call, OPTION_PORT, SECTION_BUS, "port", bus->path)) !=
		COMMAND_DONE ||
	    (code = read_setting(call, OPTION_BAUD, SECTION_BUS, "baud", &bus->baud)) !=
		COMMAND_DONE ||
	    (code = read_setting(call, OPTION_PARITY, SECTION_BUS, "parity",
		 &bus->parity)) != COMMAND_DONE ||
	    (code = read_setting(call, OPTION_STOP_BITS, SECTION_BUS, "stop_bits",
		 &bus->stop_bits)) != COMMAND_DONE)
		return code;
	if (bus->stop_bits == 0)
		bus->stop_bits = bus->parity == PARITY_NONE ? 2 : 1;
	text_copy(bus->name, sizeof bus->name, bus->path);
	return COMMAND_DONE;
}

/* A device that nobody has described yet. */
static enum command_exit
read_bare(struct registers_ask *ask, const struct call *call)
{
	bool serial = call->option[OPTION_PORT] != NULL;

	ask->configured = -1;
	read_fallback(SECTION_DEVICE, "unit_id", &ask->device.unit_id);
	read_fallback(SECTION_DEVICE, "timeout_ms", &ask->device.timeout_s);
	read_fallback(SECTION_DEVICE, "max_registers", &ask->device.max_registers);
	ask->device.gap_s = GAP_USUAL_S;
	if (serial && call->option[OPTION_ADDRESS])
		return command_usage(call, "'--address' or '--port', not both");
	if (serial)
		return read_serial(ask, call);
	for (int id = OPTION_BAUD; id <= OPTION_STOP_BITS; id++)
		if (call->option[id])
			return command_usage(
			    call, "'--%s' goes with --port", option_table[id].name);
	return read_tcp(ask, call);
}

static enum command_exit
read_configured(struct registers_ask *ask, const struct call *call)
{
	const struct settings *settings = ask->settings;

	for (int id = 0; id < OPTION_COUNT; id++)
		if (call->option[id] && (REGISTERS_WHERE_OPTIONS & OPTION_BIT(id)))
			return command_usage(call, "'--device' or '--%s', not both",
			    option_table[id].name);
	enum command_exit code = registers_ask_device(call, settings, &ask->configured);
	if (code != COMMAND_DONE)
		return code;
	ask->device = settings->devices[ask->configured];
	ask->bus = settings->buses[ask->device.bus];
	return COMMAND_DONE;
}

/* One unit, or a range of them; a configured device's own where none is given. */
static enum command_exit
read_unit(struct registers_ask *ask, const struct call *call)
{
	static const enum option_id others[] = {
	    OPTION_HOW_MANY, OPTION_EXPECT, OPTION_AGAIN, OPTION_MAX_REGISTERS};
	const char *given = call->option[OPTION_UNIT];
	int *first = &ask->device.unit_id;
	enum command_exit code;

	if (!registers_units_is_range(given))
		return read_setting(
		    call, OPTION_UNIT, SECTION_DEVICE, "unit_id", first);
	code = registers_units_parse(call, given, first, &ask->unit_last);
	for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
		if (code == COMMAND_DONE && call->option[others[i]])
			return command_usage(call,
			    "'--%s' goes with one unit; of '%s' each is asked for one "
			    "register",
			    option_table[others[i]].name, given);
	return code;
}

static enum command_exit
read_where(struct registers_ask *ask, const struct call *call)
{
	struct device_settings *device = &ask->device;
	enum command_exit code;

	if (!call->option[OPTION_DEVICE] && !call->option[OPTION_ADDRESS] &&
	    !call->option[OPTION_PORT])
		return command_usage(call,
		    "say where to read: --device NAME of the set-up, --address "
		    "HOST:PORT, or --port /dev/ttyUSB0 --baud 19200");
	code = call->option[OPTION_DEVICE] ? read_configured(ask, call)
	                                   : read_bare(ask, call);
	if (code != COMMAND_DONE || (code = read_unit(ask, call)) != COMMAND_DONE ||
	    (code = read_setting(call, OPTION_TIMEOUT_MS, SECTION_DEVICE, "timeout_ms",
		 &device->timeout_s)) != COMMAND_DONE ||
	    (code = read_setting(call, OPTION_GAP_MS, SECTION_DEVICE, "gap_ms",
		 &device->gap_s)) != COMMAND_DONE ||
	    (code = read_setting(call, OPTION_MAX_REGISTERS, SECTION_DEVICE,
		 "max_registers", &device->max_registers)) != COMMAND_DONE)
		return code;
	if (ask->bus.kind == BUS_SERIAL &&
	    (device->unit_id < 1 || device->unit_id > 247 || ask->unit_last > 247))
		return command_usage(call,
		    "'--unit' is %d, but devices of a serial line have 1 to 247",
		    ask->unit_last > 247 ? ask->unit_last : device->unit_id);
	return COMMAND_DONE;
}

/* --- which ------------------------------------------------------------------------------ */

static enum command_exit
read_document(struct registers_ask *ask, const struct call *call)
{
	const char *given = call->option[OPTION_DOCUMENT];

	if (!given)
		return COMMAND_DONE;
	if (call->option[OPTION_FIRST] || call->option[OPTION_TABLE])
		return command_usage(call,
		    "'--document' tells table and address: leave out '--%s'",
		    option_table[call->option[OPTION_FIRST] ? OPTION_FIRST
							    : OPTION_TABLE]
			.name);
	if (!registers_document_parse(given, &ask->table, &ask->first))
		return command_usage(call,
		    "'--document' is '%s': write the five or six digits of a document "
		    "whose first tells the table, such as 40101 (holding), 30101 "
		    "(input), 10101 (discrete) or 00101 (coil); a plain 101 counted "
		    "from 1 is --first 100",
		    given);
	ask->documented = true;
	return COMMAND_DONE;
}

static enum command_exit
read_which(struct registers_ask *ask, const struct call *call)
{
	double count = COUNT_USUAL, again = 1;
	int table = TABLE_HOLDING, first = 0;
	enum command_exit code;

	if ((code = read_setting(call, OPTION_TABLE, SECTION_CHANNEL, "table",
		 &table)) != COMMAND_DONE ||
	    (code = read_setting(call, OPTION_FIRST, SECTION_CHANNEL, "address",
		 &first)) != COMMAND_DONE)
		return code;
	ask->table = (enum register_table)table;
	ask->first = (uint16_t)first;
	if ((code = read_document(ask, call)) != COMMAND_DONE ||
	    (code = number_option(call, OPTION_HOW_MANY, 1, COUNT_MOST, &count)) !=
		COMMAND_DONE ||
	    (code = number_option(call, OPTION_AGAIN, 1, AGAIN_MOST, &again)) !=
		COMMAND_DONE)
		return code;
	ask->count = (uint32_t)count;
	ask->again = (uint32_t)again;
	if (ask->first + ask->count > ADDRESSES && call->option[OPTION_HOW_MANY])
		return command_usage(call,
		    "'--count' is %u, but from %u on there are %u addresses",
		    (unsigned)ask->count, (unsigned)ask->first,
		    (unsigned)(ADDRESSES - ask->first));
	if (ask->first + ask->count > ADDRESSES)
		ask->count = (uint32_t)(ADDRESSES - ask->first);
	return COMMAND_DONE;
}

enum command_exit
registers_ask_read(
    struct registers_ask *ask, const struct call *call, const struct settings *settings)
{
	const char *expect = call->option[OPTION_EXPECT];
	enum command_exit code;

	*ask = (struct registers_ask){.settings = settings};
	if ((code = read_where(ask, call)) != COMMAND_DONE ||
	    (code = read_which(ask, call)) != COMMAND_DONE)
		return code;
	ask->single = ask->count == 1 && !register_is_bit(ask->table);
	if (ask->single && ask->first + 1 < ADDRESSES)
		ask->count = 2;
	if (register_is_bit(ask->table) && !call->option[OPTION_MAX_REGISTERS])
		ask->device.max_registers = PARTS_OF_BITS;
	if (!expect)
		return COMMAND_DONE;
	if (register_is_bit(ask->table))
		return command_usage(call, "'--expect' goes with registers, not bits");
	if (!registers_expect_parse(expect, &ask->expect))
		return command_usage(call,
		    "'--expect' is '%s', must be two numbers as the display shows "
		    "them, such as 20..230",
		    expect);
	return COMMAND_DONE;
}
