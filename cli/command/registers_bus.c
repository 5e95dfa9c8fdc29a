/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/registers_bus.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/clock.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/doubt.h"
#include "daemon/fieldbus/link.h"

/* Until a device that is busy is asked again; common practice, no source. */
#define BUSY_PAUSE_S 0.25

bool
registers_bus_init(struct registers_bus *bus, const struct bus_settings *settings,
    const struct device_settings *device)
{
	*bus = (struct registers_bus){
	    .bus = settings, .device = device, .link = link_new(settings)};
	return bus->link != NULL;
}

void
registers_bus_release(struct registers_bus *bus)
{
	link_free(bus->link);
	bus->link = NULL;
}

enum answer
registers_bus_read(
    void *arg, const struct read_block *block, uint16_t *words, struct error *error)
{
	struct registers_bus *bus = arg;

	limit_wait(&bus->quiet);
	bus->took_s = 0;
	bus->opened = link_is_ready(bus->link);
	if (!bus->opened) {
		bus->open_result = link_open(bus->link, bus->device->timeout_s, error);
		if (bus->open_result != 0)
			return bus->open_result == ERROR_TIMEOUT ? ANSWER_NONE
			                                         : ANSWER_LOST;
		bus->opened = true;
	}
	struct mono sent = clock_mono();
	enum answer answer = link_read(bus->link, bus->device, block, words, error);
	bus->took_s = (double)clock_system_ns(clock_mono().ns - sent.ns) / 1e9;
	/* the link would wait for the gap too, but here it counts for no answer's time */
	bus->quiet = limit_from_now(bus->device->gap_s);
	if (answer == ANSWER_NONE && bus->bus->kind == BUS_SERIAL)
		bus->quiet = limit_from_now(doubt_after_s(bus->device->timeout_s));
	if (answer == ANSWER_BUSY && bus->device->gap_s < BUSY_PAUSE_S)
		bus->quiet = limit_from_now(BUSY_PAUSE_S);
	if (answer < ANSWER_NONE && bus->took_s > bus->slowest_s)
		bus->slowest_s = bus->took_s;
	return answer;
}

/* --- what to look at -------------------------------------------------------------------- */

static bool
says(const struct error *error, int number)
{
	return strstr(error->text, strerrordesc_np(number)) != NULL;
}

static const char *
advice_on_opening(const struct registers_bus *bus, const struct error *error)
{
	if (bus->bus->kind == BUS_SERIAL) /* the sentence says what to do but this */
		return bus->open_result == ERROR_NOT_FOUND
		           ? "'ls -l /dev/serial/by-id' lists those that are"
		           : NULL;
	if (bus->open_result == ERROR_NOT_FOUND)
		return "is the name right? An address in figures needs no name server";
	if (says(error, ECONNREFUSED))
		return "the host is there, but nobody takes calls at that port: is "
		       "Modbus TCP switched on there, is the port another than 502, "
		       "does another client hold the only connection (stop evensoakd "
		       "for the moment)?";
	return "nothing answers there: is the device on, the cable in, the address "
	       "right, both in one network, no firewall between?";
}

static const char *
advice_on_silence(const struct registers_bus *bus)
{
	if (bus->bus->kind == BUS_SERIAL)
		return "look at the unit id, baud, parity and stop bits (as in the "
		       "device), wires A and B (swap them), both ends' termination, "
		       "the device's supply";
	return "the connection is there, so look at the unit id (0, 1 and 255 are "
	       "usual where there is no gateway); a slow device or a gateway needs a "
	       "longer time-out";
}

static const char *
advice_on(
    const struct registers_bus *bus, enum answer answer, const struct error *error)
{
	bool serial = bus->bus->kind == BUS_SERIAL;

	switch (answer) {
	case ANSWER_GOOD:
	case ANSWER_COUNT:
		return NULL;
	case ANSWER_FAULT:
		return "that says nothing of the address: look at the device itself, "
		       "and "
		       "in its manual for the code";
	case ANSWER_BUSY:
		return "it answers busy: wait, or raise --gap-ms (of a set-up: gap_ms)";
	case ANSWER_ILLEGAL:
		return strstr(error->text, "exception 1,")
		           ? "look in another table: input in "
		             "place of holding, coil in place of "
		             "discrete, or the other way round"
		           : NULL;
	case ANSWER_GATEWAY:
		return "the gateway is there, the device behind it is not: look at the "
		       "unit id, its cable and its supply";
	case ANSWER_NONE:
		return bus->opened ? advice_on_silence(bus)
		                   : advice_on_opening(bus, error);
	case ANSWER_WRONG:
		return serial ? "something is on the wires that cannot be read: look "
		                "at baud, parity and stop bits, for a second master "
		                "and for two devices with the same unit id"
		              : "is this a Modbus TCP port? A gateway must be set to "
		                "Modbus TCP, not to pass RTU frames through";
	case ANSWER_LOST:
		if (!bus->opened)
			return advice_on_opening(bus, error);
		return serial ? "was the adapter pulled out?"
		              : "some controllers close what is one connection too "
		                "many: stop evensoakd or another client for the moment";
	}
	return NULL;
}

void
registers_bus_advise(
    const struct registers_bus *bus, enum answer answer, struct error *error)
{
	const char *advice = advice_on(bus, answer, error);
	struct error why = *error;

	if (advice)
		error_set(error, ERROR_IO, "%.200s; %s", why.text, advice);
}
