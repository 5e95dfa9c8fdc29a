/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/link_serial.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/doubt.h"
#include "daemon/fieldbus/frame.h"
#include "daemon/fieldbus/port.h"

enum { UNIT_MAX = 247 }; /* Modbus over Serial Line V1.02, 2.2 */

/* To wait for another program's exchange, which takes two where they are alike. */
static const double turn_timeouts = 3;

/* After a wrong reply: longer than a device pauses within a frame. */
static const double settle_s = 0.02;

struct link_serial {
	struct port port;
	bool echoes; /* the adapter, what is sent */
	struct doubt doubts[UNIT_MAX + 1];
};

/* One request on its way. */
struct exchange {
	struct frame_request request;
	uint8_t asked[FRAME_REQUEST_BYTES];
	size_t asked_bytes;
	double timeout_s;
	struct limit limit;
	uint8_t reply[FRAME_REPLY_BYTES];
	int stranger; /* another unit that answered in its place; -1: none */
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

void
link_serial_free(struct link_serial *serial)
{
	if (!serial)
		return;
	port_release(&serial->port);
	free(serial);
}

bool
link_serial_is_well(const struct link_serial *serial)
{
	return port_is_well(&serial->port);
}

int
link_serial_open(struct link_serial *serial, struct error *error)
{
	serial->echoes = false; /* it may be another adapter */
	return port_open(&serial->port, error);
}

void
link_serial_close(struct link_serial *serial)
{
	port_close(&serial->port);
}

/* --- what went wrong -------------------------------------------------------------- */

static enum answer
lost(int failure, struct error *error)
{
	error_set(error, ERROR_IO, "the port is gone: %s", strerrordesc_np(failure));
	return ANSWER_LOST;
}

static enum answer
wrong(const char *text, struct error *error)
{
	error_set(error, ERROR_IO, "%s", text);
	return ANSWER_WRONG;
}

/* How many bytes came for certain, up to the request's length: the buffer had been
 * filled with what is not the request. */
static size_t
echoed_bytes(const struct exchange *exchange)
{
	size_t same = 0;

	while (same < exchange->asked_bytes &&
	       exchange->reply[same] == exchange->asked[same])
		same++;
	return same;
}

/* Before receiving, so that afterwards one can tell whether something came. */
static void
clear_reply(struct exchange *exchange)
{
	for (size_t i = 0; i < exchange->asked_bytes; i++)
		exchange->reply[i] = (uint8_t)~exchange->asked[i];
}

static bool
something_came(const struct exchange *exchange)
{
	for (size_t i = 0; i < exchange->asked_bytes; i++)
		if ((exchange->reply[i] ^ exchange->asked[i]) != 0xFF)
			return true;
	return false;
}

static enum answer
timed_out(const struct exchange *exchange, struct error *error)
{
	int ms = limit_to_ms(exchange->timeout_s);

	if (exchange->stranger >= 0) {
		error_set(error, ERROR_IO,
		    "reply out of step: unit id %d in place of %d", exchange->stranger,
		    exchange->request.unit_id);
		return ANSWER_WRONG;
	}
	if (something_came(exchange))
		error_set(error, ERROR_TIMEOUT,
		    "timed out after %d ms, and what came is no reply: check baud, "
		    "parity and wiring",
		    ms);
	else
		error_set(error, ERROR_TIMEOUT, "timed out after %d ms", ms);
	return ANSWER_NONE;
}

static enum answer
explain(const struct link_serial *serial, const struct exchange *exchange, int failure,
    struct error *error)
{
	switch (failure) {
	case ETIMEDOUT:
		return timed_out(exchange, error);
	case EMBBADCRC:
		return wrong("reply damaged: its check sum is wrong", error);
	case EMBBADDATA:
		return wrong("reply out of step: longer than a frame can be", error);
	case EAGAIN:
	case ECONNRESET: /* nothing to read where something had been announced */
		if (port_is_well(&serial->port))
			return wrong("another program reads from this port", error);
		return lost(EIO, error);
	default:
		return lost(failure, error);
	}
}

/* --- an exchange ------------------------------------------------------------------ */

/* Good when all of them have come. */
static enum answer
read_all(struct link_serial *serial, struct exchange *exchange, uint8_t *bytes,
    size_t count, struct error *error)
{
	while (count > 0) {
		int got = port_read(&serial->port, bytes, count, &exchange->limit);

		if (got < 0)
			return lost(-got, error);
		if (got == 0)
			return timed_out(exchange, error);
		bytes += got;
		count -= (size_t)got;
	}
	return ANSWER_GOOD;
}

/* Of an adapter that echoes. */
static enum answer
skip_echo(struct link_serial *serial, struct exchange *exchange, struct error *error)
{
	enum answer answer;

	clear_reply(exchange);
	answer =
	    read_all(serial, exchange, exchange->reply, exchange->asked_bytes, error);
	if (answer == ANSWER_GOOD && echoed_bytes(exchange) < exchange->asked_bytes)
		answer = wrong("the adapter's echo is not what was sent: do two "
			       "programs or two masters talk at once?",
		    error);
	if (answer == ANSWER_NONE || answer == ANSWER_WRONG)
		serial->echoes = false; /* perhaps never, or no longer */
	return answer;
}

static enum answer
send_request(struct link_serial *serial, struct exchange *exchange, struct error *error)
{
	ssize_t sent;

	port_flush(&serial->port);
	exchange->limit = limit_from_now(exchange->timeout_s);
	sent = write(serial->port.fd, exchange->asked, exchange->asked_bytes);
	if (sent < 0 && errno != EAGAIN)
		return lost(errno, error);
	if (sent < (ssize_t)exchange->asked_bytes) {
		error_set(error, ERROR_IO, "the port takes no request");
		return ANSWER_LOST;
	}
	return serial->echoes ? skip_echo(serial, exchange, error) : ANSWER_GOOD;
}

/*
 * Whether what libmodbus read, and took for a reply, is our request's echo; reads the
 * rest of that, so that the reply comes next.  libmodbus may have read on into the
 * reply: then ANSWER_WRONG, once.
 */
static bool
find_echo(struct link_serial *serial, struct exchange *exchange)
{
	enum { TELLING_BYTES = 3 }; /* the least that libmodbus reads */
	size_t same = echoed_bytes(exchange);
	struct error none;

	if (same < TELLING_BYTES ||
	    read_all(serial, exchange, exchange->reply + same,
		exchange->asked_bytes - same, &none) != ANSWER_GOOD ||
	    echoed_bytes(exchange) < exchange->asked_bytes)
		return false;
	serial->echoes = true;
	return true;
}

/* The next frame: its length, 0 when it is another unit's; below 0 an errno. */
static int
receive_frame(struct link_serial *serial, struct exchange *exchange)
{
	int64_t us = limit_left_ns(&exchange->limit) / 1000;
	int got;

	if (us <= 0)
		return -ETIMEDOUT;
	clear_reply(exchange);
	modbus_set_response_timeout(
	    serial->port.modbus, (uint32_t)(us / 1000000), (uint32_t)(us % 1000000));
	got = modbus_receive_confirmation(serial->port.modbus, exchange->reply);
	return got < 0 ? -errno : got;
}

static enum answer
receive_reply(struct link_serial *serial, struct exchange *exchange, uint16_t *words,
    struct error *error)
{
	for (;;) {
		int got = receive_frame(serial, exchange);
		bool whole = echoed_bytes(exchange) == exchange->asked_bytes;

		if (got == 0) {
			exchange->stranger = exchange->reply[0];
			continue;
		}
		if (got > 0 && !whole)
			return frame_read_reply(&exchange->request, exchange->reply,
			    (size_t)got, words, error);
		if (!serial->echoes && find_echo(serial, exchange)) {
			if (!whole || got == (int)exchange->asked_bytes)
				continue; /* the reply comes behind it */
			return wrong("the adapter echoes what is sent: it is "
				     "skipped from now on",
			    error);
		}
		if (got > 0) /* an adapter that echoes twice */
			return wrong(
			    "the request came back in place of a reply", error);
		return explain(serial, exchange, -got, error);
	}
}

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

/* Keeps account of what may come late. */
static void
judge(struct doubt *doubt, const struct exchange *exchange, enum answer answer)
{
	switch (answer) {
	case ANSWER_GOOD:
		doubt_clear(doubt);
		break;
	case ANSWER_ILLEGAL:
	case ANSWER_BUSY:
	case ANSWER_FAULT:
	case ANSWER_GATEWAY:
		/* It may be the answer to an earlier request. */
		if (doubt->on)
			doubt_add(doubt, &exchange->request.block, exchange->timeout_s);
		break;
	case ANSWER_NONE:
	case ANSWER_WRONG:
	case ANSWER_LOST:
		doubt_add(doubt, &exchange->request.block, exchange->timeout_s);
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
	struct exchange exchange = {
	    .request = {.kind = BUS_SERIAL,
		.unit_id = (uint8_t)device->unit_id,
		.block = *block},
	    .timeout_s = device->timeout_s,
	    .stranger = -1,
	};
	enum answer answer;

	exchange.asked_bytes = frame_write_request(&exchange.request, exchange.asked);
	answer = send_request(serial, &exchange, error);
	if (answer == ANSWER_GOOD)
		answer = receive_reply(serial, &exchange, words, error);
	fall_silent(serial, &exchange, answer);
	judge(&serial->doubts[device->unit_id], &exchange, answer);
	return answer;
}

/* With the port in hand. */
static enum answer
read_in_turn(struct link_serial *serial, const struct device_settings *device,
    const struct read_block *block, uint16_t *words, struct error *error)
{
	struct doubt *doubt = &serial->doubts[device->unit_id];
	uint16_t thrown_away[PLAN_BITS_MAX];
	struct read_block probe;
	enum answer answer;

	switch (doubt_look(doubt, block, &probe)) {
	case DOUBT_ASK:
		break;
	case DOUBT_WAIT:
		error_set(error, ERROR_TIMEOUT,
		    "left alone for %d ms more: a late answer could be taken for the "
		    "next one",
		    limit_left_ms(&doubt->until));
		return ANSWER_NONE;
	case DOUBT_PROBE:
		answer = ask(serial, device, &probe, thrown_away, error);
		if (answer != ANSWER_GOOD)
			return answer;
		break;
	}
	return ask(serial, device, block, words, error);
}

enum answer
link_serial_read(struct link_serial *serial, const struct device_settings *device,
    const struct read_block *block, uint16_t *words, struct error *error)
{
	struct limit turn = limit_from_now(turn_timeouts * device->timeout_s);
	struct limit gap;
	enum answer answer;

	if (device->unit_id < 1 || device->unit_id > UNIT_MAX) {
		error_set(error, ERROR_INVALID,
		    "unit id %d is not for a serial line: it must be 1..%d",
		    device->unit_id, UNIT_MAX);
		return ANSWER_ILLEGAL;
	}
	modbus_set_slave(serial->port.modbus, device->unit_id);
	switch (port_take(&serial->port, &turn)) {
	case PORT_TURN_FREE:
		break;
	case PORT_TURN_WAITED: /* its device may want a pause too */
		gap = limit_from_now(device->gap_s);
		limit_wait(&gap);
		break;
	case PORT_TURN_TAKEN:
		error_set(error, ERROR_BUSY,
		    "another program has held the port for %d ms",
		    limit_to_ms(turn_timeouts * device->timeout_s));
		return ANSWER_NONE;
	}
	answer = read_in_turn(serial, device, block, words, error);
	port_yield(&serial->port);
	return answer;
}
