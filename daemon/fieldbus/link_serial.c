/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/link_serial.h"

#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/doubt.h"
#include "daemon/fieldbus/exchange.h"
#include "daemon/fieldbus/port.h"

enum { UNIT_MAX = 247 }; /* Modbus over Serial Line V1.02, 2.2 */

/* To wait for another program's exchange, which takes two where they are alike. */
static const double turn_timeouts = 3;

/* After a wrong reply: longer than a device pauses within a frame. */
static const double settle_s = 0.02;

struct link_serial {
	struct port port;
	struct doubt doubts[UNIT_MAX + 1];
	/* How our own request failed that put the unit in doubt; "": none did. */
	char whys[UNIT_MAX + 1][128];
	struct limit warned; /* other programs, of late answers; till then */
};

struct link_serial *
link_serial_new(const struct bus_settings *bus)
{
	struct link_serial *serial = calloc(1, sizeof *serial);

	if (serial && port_init(&serial->port, bus)) {
		free(serial);
		return NULL;
	}
	return serial;
}

/* Other programs need not mind any more. */
static void
end_warnings(struct link_serial *serial)
{
	if (serial->warned.ns == 0 || !limit_is_over(&serial->warned))
		return;
	port_end_warnings(&serial->port, 0);
	serial->warned = (struct limit){0};
}

void
link_serial_free(struct link_serial *serial)
{
	if (!serial)
		return;
	port_release(&serial->port);
	free(serial);
}

bool
link_serial_is_well(struct link_serial *serial)
{
	end_warnings(serial);
	return port_is_well(&serial->port);
}

/* Somebody else's requests may be answered late, to whatever unit. */
static void
doubt_all(struct link_serial *serial, double timeout_s)
{
	for (int unit_id = 1; unit_id <= UNIT_MAX; unit_id++)
		doubt_strangers(&serial->doubts[unit_id], timeout_s);
}

/* Warnings ended with the port that was closed. */
static void
warn_again(struct link_serial *serial)
{
	for (int unit_id = 1; unit_id <= UNIT_MAX; unit_id++) {
		const struct doubt *doubt = &serial->doubts[unit_id];

		for (size_t length = 0; doubt->on && length < PORT_LENGTHS; length++)
			if (doubt_has(doubt, length))
				port_warn(&serial->port, unit_id, length);
	}
}

int
link_serial_open(struct link_serial *serial, double timeout_s, struct error *error)
{
	int result = port_open(&serial->port, turn_timeouts * timeout_s, error);

	if (result)
		return result;
	warn_again(serial);
	port_discard(&serial->port, timeout_s, timeout_s, turn_timeouts * timeout_s);
	port_yield(&serial->port);
	doubt_all(serial, timeout_s);
	return 0;
}

void
link_serial_close(struct link_serial *serial)
{
	port_close(&serial->port);
}

double
link_serial_gap_s(const struct link_serial *serial)
{
	return port_is_wanted(&serial->port) ? 2 * port_nap_s : 0;
}

void
link_serial_linger(const struct link_serial *serial)
{
	limit_wait(&serial->warned);
}

/* --- reading ---------------------------------------------------------------------- */

/* Nobody may be talking when the next request goes out. */
static void
fall_silent(
    struct link_serial *serial, const struct exchange *exchange, enum answer answer)
{
	double silence_s = port_silence_s(serial->port.bus);
	struct limit pause = limit_from_now(silence_s);
	double timeout_s = exchange->timeout_s;

	switch (answer) {
	case ANSWER_GOOD:
	case ANSWER_ILLEGAL:
	case ANSWER_BUSY:
	case ANSWER_FAULT:
	case ANSWER_GATEWAY:
		limit_wait(&pause);
		break;
	case ANSWER_NONE:
		port_discard(
		    &serial->port, timeout_s, silence_s + settle_s, 2 * timeout_s);
		break;
	case ANSWER_WRONG:
		port_discard(&serial->port, 0, silence_s + settle_s, timeout_s);
		break;
	case ANSWER_LOST:
	case ANSWER_COUNT:
		break;
	}
}

static void
put_in_doubt(
    struct link_serial *serial, const struct exchange *exchange, const char *why)
{
	const struct read_block *block = &exchange->request.block;
	int unit_id = exchange->request.unit_id;
	struct doubt *doubt = &serial->doubts[unit_id];

	doubt_add(doubt, block, exchange->timeout_s);
	text_copy(serial->whys[unit_id], sizeof serial->whys[unit_id], why);
	port_warn(&serial->port, unit_id, frame_data_bytes(block));
	if (limit_left_ns(&serial->warned) < doubt->until.ns)
		serial->warned = doubt->until;
}

static void
believe(struct link_serial *serial, int unit_id)
{
	if (!serial->doubts[unit_id].on && !serial->doubts[unit_id].strange)
		return;
	doubt_clear(&serial->doubts[unit_id]);
	serial->whys[unit_id][0] = '\0';
	port_end_warnings(&serial->port, unit_id);
}

/* Keeps account of what may come late. */
static void
judge(struct link_serial *serial, const struct exchange *exchange, enum answer answer,
    const char *why)
{
	int unit_id = exchange->request.unit_id;
	bool in_doubt = serial->doubts[unit_id].on;

	switch (answer) {
	case ANSWER_GOOD:
		believe(serial, unit_id);
		break;
	case ANSWER_ILLEGAL:
	case ANSWER_BUSY:
	case ANSWER_FAULT:
	case ANSWER_GATEWAY:
		if (in_doubt) /* it may be the answer to an earlier request */
			put_in_doubt(serial, exchange, why);
		break;
	case ANSWER_WRONG:
		/* What a request is answered with comes once. */
		if (in_doubt || !exchange->damaged)
			put_in_doubt(serial, exchange, why);
		break;
	case ANSWER_NONE:
	case ANSWER_LOST:
		put_in_doubt(serial, exchange, why);
		break;
	case ANSWER_COUNT:
		break;
	}
}

/* The whole of one request, from silence to silence. */
static enum answer
ask(struct link_serial *serial, const struct device_settings *device,
    const struct read_block *block, uint16_t *words, struct error *error)
{
	struct exchange exchange;
	enum answer answer;

	exchange_init(&exchange, device, block);
	answer = exchange_run(&exchange, &serial->port, words, error);
	fall_silent(serial, &exchange, answer);
	judge(serial, &exchange, answer,
	    answer == ANSWER_GOOD || !error ? "" : error->text);
	return answer;
}

/* With what other programs know of the unit. */
static enum doubt_way
look(struct link_serial *serial, const struct device_settings *device,
    const struct read_block *block, struct read_block *probe)
{
	struct doubt *doubt = &serial->doubts[device->unit_id];
	enum doubt_way way;
	bool was_on;

	/* They stay when the other program goes, which can be in haste. */
	if (port_warnings(&serial->port, device->unit_id, doubt->lengths)) {
		doubt->on = true;
		doubt->until = limit_from_now(doubt_after_s(device->timeout_s));
	}
	was_on = doubt->on;
	way = doubt_look(doubt, block, probe);
	if (was_on && !doubt->on) /* nothing can come any more */
		port_end_warnings(&serial->port, device->unit_id);
	return way;
}

/* With the port in hand. */
static enum answer
read_in_turn(struct link_serial *serial, const struct device_settings *device,
    const struct read_block *block, uint16_t *words, struct error *error)
{
	uint16_t thrown_away[PLAN_BITS_MAX];
	struct read_block probe;
	enum answer answer;
	const char *why = serial->whys[device->unit_id];

	switch (look(serial, device, block, &probe)) {
	case DOUBT_ASK:
		break;
	case DOUBT_WAIT:
		error_set(error, ERROR_TIMEOUT,
		    "%s%sleft alone for so long that no late answer can be taken for "
		    "the next one",
		    why, *why ? "; " : "");
		return ANSWER_UNASKED;
	case DOUBT_PROBE:
		answer = ask(serial, device, &probe, thrown_away, error);
		if (answer != ANSWER_GOOD)
			return answer;
		break;
	}
	return ask(serial, device, block, words, error);
}

/* False when another program keeps it. */
static bool
take_turn(struct link_serial *serial, const struct device_settings *device)
{
	struct limit turn = limit_from_now(turn_timeouts * device->timeout_s);
	struct limit gap;

	switch (port_take(&serial->port, &turn)) {
	case PORT_TURN_FREE:
		return true;
	case PORT_TURN_WAITED:
		if (!port_is_shared(&serial->port)) /* it has gone, perhaps in haste */
			doubt_all(serial, device->timeout_s);
		gap = limit_from_now(device->gap_s); /* its device may want it too */
		limit_wait(&gap);
		return true;
	case PORT_TURN_TAKEN:
		break;
	}
	return false;
}

enum answer
link_serial_read(struct link_serial *serial, const struct device_settings *device,
    const struct read_block *block, uint16_t *words, struct error *error)
{
	enum answer answer;

	if (device->unit_id < 1 || device->unit_id > UNIT_MAX) {
		error_set(error, ERROR_INVALID,
		    "unit id %d is not for a serial line: it must be 1..%d",
		    device->unit_id, UNIT_MAX);
		return ANSWER_ILLEGAL;
	}
	end_warnings(serial);
	modbus_set_slave(serial->port.modbus, device->unit_id);
	if (!take_turn(serial, device)) {
		port_explain_taken(
		    &serial->port, turn_timeouts * device->timeout_s, error);
		return ANSWER_UNASKED;
	}
	answer = read_in_turn(serial, device, block, words, error);
	port_yield(&serial->port);
	return answer;
}
