/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/exchange.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/port.h"

void
exchange_init(struct exchange *exchange, const struct device_settings *device,
    const struct read_block *block)
{
	*exchange = (struct exchange){
	    .request = {.kind = BUS_SERIAL,
		.unit_id = (uint8_t)device->unit_id,
		.block = *block},
	    .timeout_s = device->timeout_s,
	    .stranger = -1,
	};
	exchange->asked_bytes =
	    frame_write_request(&exchange->request, exchange->asked);
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
explain(const struct port *port, const struct exchange *exchange, int failure,
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
		if (port_is_well(port))
			return wrong("another program reads from this port", error);
		return lost(EIO, error);
	default:
		return lost(failure, error);
	}
}

/* --- an exchange ------------------------------------------------------------------ */

/* Good when all of them have come. */
static enum answer
read_all(struct port *port, struct exchange *exchange, uint8_t *bytes, size_t count,
    struct error *error)
{
	while (count > 0) {
		int got = port_read(port, bytes, count, &exchange->limit);

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
skip_echo(struct port *port, struct exchange *exchange, struct error *error)
{
	enum answer answer;

	clear_reply(exchange);
	answer =
	    read_all(port, exchange, exchange->reply, exchange->asked_bytes, error);
	if (answer == ANSWER_GOOD && echoed_bytes(exchange) < exchange->asked_bytes)
		answer = wrong("the adapter's echo is not what was sent: do two "
			       "programs or two masters talk at once?",
		    error);
	if (answer == ANSWER_NONE || answer == ANSWER_WRONG)
		port->echoes = port->plain = false; /* perhaps never, or no longer */
	return answer;
}

static enum answer
send_request(struct port *port, struct exchange *exchange, struct error *error)
{
	ssize_t sent;

	port_flush(port);
	exchange->limit = limit_from_now(exchange->timeout_s);
	sent = write(port->fd, exchange->asked, exchange->asked_bytes);
	if (sent < 0 && errno != EAGAIN)
		return lost(errno, error);
	if (sent < (ssize_t)exchange->asked_bytes) {
		error_set(error, ERROR_IO, "the port takes no request");
		return ANSWER_LOST;
	}
	return port->echoes ? skip_echo(port, exchange, error) : ANSWER_GOOD;
}

/*
 * Whether what libmodbus read, and took for a reply, is our request's echo; reads the
 * rest of that, so that the reply comes next.  libmodbus may have read on into the
 * reply: then ANSWER_WRONG, once.
 */
static bool
find_echo(struct port *port, struct exchange *exchange)
{
	enum { TELLING_BYTES = 3 }; /* the least that libmodbus reads */
	size_t same = echoed_bytes(exchange);
	struct error none;

	if (same < TELLING_BYTES ||
	    read_all(port, exchange, exchange->reply + same,
		exchange->asked_bytes - same, &none) != ANSWER_GOOD ||
	    echoed_bytes(exchange) < exchange->asked_bytes)
		return false;
	port->echoes = true;
	port->plain = false;
	return true;
}

/* A frame that may be the answer. */
static enum answer
judge_frame(struct port *port, struct exchange *exchange, int length, uint16_t *words,
    struct error *error)
{
	enum answer answer = frame_read_reply(
	    &exchange->request, exchange->reply, (size_t)length, words, error);

	if (exchange->twin && answer == ANSWER_GOOD)
		port->echoes = true; /* that was one: the answer came behind it */
	if (answer == ANSWER_GOOD)
		port->plain = true;
	return answer;
}

/* Of a frame whose check sum is wrong: whether it begins like the answer.  Its length
 * is then right too, since libmodbus took as much. */
static bool
begins_like_answer(const struct exchange *exchange)
{
	return exchange->reply[0] == exchange->asked[0] &&
	       exchange->reply[1] == exchange->asked[1] &&
	       exchange->reply[2] == frame_data_bytes(&exchange->request.block);
}

/* The next frame: its length, 0 when it is another unit's; below 0 an errno. */
static int
receive_frame(struct port *port, struct exchange *exchange)
{
	int64_t us = limit_left_ns(&exchange->limit) / 1000;
	int got;

	if (us <= 0)
		return -ETIMEDOUT;
	clear_reply(exchange);
	modbus_set_response_timeout(
	    port->modbus, (uint32_t)(us / 1000000), (uint32_t)(us % 1000000));
	got = modbus_receive_confirmation(port->modbus, exchange->reply);
	return got < 0 ? -errno : got;
}

/* A frame that is byte for byte the request, and has the form of its answer: 17 to 24
 * bits at 768 to 1023, of such values.  Only of an adapter that is known by an earlier
 * answer it can be told which it is. */
static bool
is_twin(const struct port *port, const struct exchange *exchange, int got)
{
	return got == (int)exchange->asked_bytes && !port->plain && !port->echoes &&
	       !exchange->twin;
}

static enum answer
receive_reply(
    struct port *port, struct exchange *exchange, uint16_t *words, struct error *error)
{
	for (;;) {
		int got = receive_frame(port, exchange);
		bool whole = echoed_bytes(exchange) == exchange->asked_bytes;

		if (got == 0) {
			exchange->stranger = exchange->reply[0];
			continue;
		}
		if (got > 0 && (!whole || port->plain))
			return judge_frame(port, exchange, got, words, error);
		if (whole && is_twin(port, exchange, got)) {
			exchange->twin = true; /* of an echo the answer comes next */
			continue;
		}
		if (!port->echoes && find_echo(port, exchange)) {
			if (!whole)
				continue; /* the reply comes behind it */
			return wrong("the adapter echoes what is sent: it is "
				     "skipped from now on",
			    error);
		}
		if (got > 0) /* an adapter that echoes twice */
			return wrong(
			    "the request came back in place of a reply", error);
		exchange->damaged = got == -EMBBADCRC && begins_like_answer(exchange);
		return explain(port, exchange, -got, error);
	}
}

enum answer
exchange_run(
    struct exchange *exchange, struct port *port, uint16_t *words, struct error *error)
{
	enum answer answer = send_request(port, exchange, error);

	if (answer == ANSWER_GOOD)
		answer = receive_reply(port, exchange, words, error);
	return answer;
}
