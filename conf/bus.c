/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/bus.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "conf/draft.h"
#include "daemon/base/text.h"

/* Unit identifiers of a serial line; 0 is for broadcasts, above are reserved (Modbus over
 * Serial Line V1.02, 2.2). */
enum { UNIT_FIRST = 1, UNIT_LAST = 247 };

static const int rates[] = {
    1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200, 230400};

/* --- a section ---------------------------------------------------------------------- */

static void
check_rate(struct draft *draft, struct part *part)
{
	int baud = part->as.bus.baud;

	if (!part_sound(part, "baud"))
		return;
	for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++)
		if (rates[i] == baud)
			return;
	part_refuse(draft, part, "baud",
	    "'baud' is '%d', which no port has: write 1200, 2400, 4800, 9600, 19200, "
	    "38400, 57600, 115200 or 230400",
	    baud);
}

static void
check_port(struct draft *draft, struct part *part)
{
	const char *path = part->as.bus.path;
	const struct part *twin = NULL;

	if (!part_sound(part, "port"))
		return;
	if (*path != '/' || path[strlen(path) - 1] == '/') {
		part_refuse(draft, part, "port",
		    "'port' is '%s': write the whole path of the serial device, such "
		    "as /dev/ttyUSB0, or better its name in /dev/serial/by-id, which "
		    "stays",
		    path);
		return;
	}
	while ((twin = draft_next(draft, SECTION_BUS, twin)) != part) {
		if (strcmp(twin->as.bus.path, path) != 0)
			continue;
		part_refuse(draft, part, "port",
		    "%s has the port of %s in line %d: put their devices on one of "
		    "them, and leave the other out",
		    part->source->title, twin->source->title, twin->source->line);
		return;
	}
}

void
bus_check(struct draft *draft, struct part *part)
{
	struct bus_settings *bus = &part->as.bus;

	check_rate(draft, part);
	check_port(draft, part);
	bus->kind = BUS_SERIAL;
	text_copy(bus->name, sizeof bus->name, part->source->name);
	/* A character is of 11 bits (Modbus over Serial Line V1.02, 2.5.1). */
	if (!part_has(part, "stop_bits"))
		bus->stop_bits = bus->parity == PARITY_NONE ? 2 : 1;
}

/* The number of the device that the port's path leads to; false when there is none now. */
static bool
find_number(const struct part *part, dev_t *number)
{
	struct stat port;

	if (part->bad || !part_sound(part, "port") ||
	    stat(part->as.bus.path, &port) != 0 || !S_ISCHR(port.st_mode))
		return false;
	*number = port.st_rdev;
	return true;
}

static void
look_for_twin(struct draft *draft, struct part *part)
{
	const struct part *other = NULL;
	dev_t number, its;

	if (!find_number(part, &number))
		return;
	while ((other = draft_next(draft, SECTION_BUS, other)) != part) {
		if (!find_number(other, &its) || its != number)
			continue;
		part_refuse(draft, part, "port",
		    "'port' is '%s', which is the same port as '%s' of %s in line %d: "
		    "put their devices on one of them, and leave the other out",
		    part->as.bus.path, other->as.bus.path, other->source->title,
		    other->source->line);
		return;
	}
}

void
bus_look_at_ports(struct draft *draft)
{
	struct part *part = NULL;

	while ((part = draft_next(draft, SECTION_BUS, part)) != NULL)
		look_for_twin(draft, part);
}

/* --- a device ----------------------------------------------------------------------- */

static void
check_unit(struct draft *draft, struct part *device)
{
	int unit_id = device->as.device.out.unit_id;

	if (!part_sound(device, "unit_id"))
		return;
	if (!part_has(device, "unit_id"))
		part_refuse(draft, device, NULL,
		    "'unit_id' is missing in %s: each device of a serial line has its "
		    "own, write unit_id = %d to %d as it is set there",
		    device->source->title, UNIT_FIRST, UNIT_LAST);
	else if (unit_id < UNIT_FIRST || unit_id > UNIT_LAST)
		part_refuse(draft, device, "unit_id",
		    "'unit_id' is '%d', but devices of a serial line have %d to %d: "
		    "write what is set there",
		    unit_id, UNIT_FIRST, UNIT_LAST);
}

void
bus_check_device(struct draft *draft, struct part *device)
{
	bool address = part_has(device, "address"), bus = part_has(device, "bus");

	if (address && bus)
		part_refuse(draft, device, "bus",
		    "'bus' and 'address' stand both in %s: keep 'bus' for a serial "
		    "line, 'address' for a device or a gateway in the network",
		    device->source->title);
	else if (bus)
		check_unit(draft, device);
	else if (!address)
		part_refuse(draft, device, NULL,
		    "%s hangs on nothing: write address = HOST:PORT for a device or a "
		    "gateway in the network, or bus = NAME of the [bus NAME] that is "
		    "its serial line",
		    device->source->title);
}

/* --- settings ----------------------------------------------------------------------- */

/* Devices with the same host and port share a bus. */
static bool
is_same(const struct bus_settings *one, const struct bus_settings *other)
{
	if (one->kind != other->kind)
		return false;
	if (one->kind == BUS_SERIAL)
		return strcmp(one->name, other->name) == 0;
	return one->port == other->port && strcasecmp(one->host, other->host) == 0;
}

static bool
find(const struct settings *settings, const struct bus_settings *bus, uint32_t *found)
{
	for (*found = 0; *found < settings->bus_count; ++*found)
		if (is_same(&settings->buses[*found], bus))
			return true;
	return false;
}

void
bus_fill(
    struct settings *settings, const struct part *part, struct device_settings *device)
{
	struct bus_settings bus = part->as.device.tcp;

	if (part->as.device.bus)
		bus = part->as.device.bus->as.bus;
	else
		snprintf(bus.name, sizeof bus.name, "%s:%d", bus.host, bus.port);
	if (!find(settings, &bus, &device->bus))
		settings->buses[settings->bus_count++] = bus;
}

void
bus_fill_idle(struct settings *settings, const struct draft *draft)
{
	const struct part *part = NULL;
	uint32_t found;

	while ((part = draft_next(draft, SECTION_BUS, part)) != NULL)
		if (!find(settings, &part->as.bus, &found))
			settings
			    ->buses[settings->bus_count + settings->idle_bus_count++] =
			    part->as.bus;
}
