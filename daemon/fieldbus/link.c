/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/link.h"

#include <assert.h>
#include <errno.h>
#include <modbus.h>
#include <netdb.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/select.h>
#include <sys/socket.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/clock.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/frame.h"
#include "daemon/fieldbus/resolve.h"

/*
 * What libmodbus does here: the framing of replies and their time-out.  What it does
 * not, and why:
 *  - connecting: it calls select, which aborts the process on a descriptor past
 *    FD_SETSIZE, and tells every failure as "refused";
 *  - sending: modbus_send_raw_request always writes transaction 0;
 *  - checking: over TCP its own reads take a wrong unit id, protocol or length.
 */
struct link {
	modbus_t *modbus;
	struct resolve *resolve; /* a look-up that has not answered yet, or NULL */
	bool connected;
	uint16_t transaction;
	struct link_counts counts;
	const struct bus_settings *bus; /* lent */
};

/* An end of waiting, in the system's time. */
struct limit {
	struct mono start;
	int64_t ns;
};

static struct limit
limit_from_now(double timeout_s)
{
	return (struct limit){
	    .start = clock_mono(),
	    .ns = (int64_t)(timeout_s * (double)CLOCK_SECOND_NS),
	};
}

/* Rounded up: 0 only when the time is over. */
static int
limit_left_ms(const struct limit *limit)
{
	int64_t left_ns =
	    limit->ns - clock_system_ns(clock_mono().ns - limit->start.ns);

	return left_ns > 0 ? (int)((left_ns + 999999) / 1000000) : 0;
}

static int
to_ms(double seconds)
{
	return (int)(seconds * 1000 + 0.5);
}

struct link *
link_new(const struct bus_settings *bus)
{
	struct link *link = calloc(1, sizeof *link);

	if (!link)
		return NULL;
	/* The address is not used: the socket is ours. */
	link->modbus = modbus_new_tcp("0.0.0.0", bus->port);
	if (!link->modbus) {
		free(link);
		return NULL;
	}
	/* Without a time-out a byte the response's is a total limit; with it a device
	 * that drips a byte now and then could hold us for minutes. */
	modbus_set_byte_timeout(link->modbus, 0, 0);
	modbus_set_error_recovery(link->modbus, MODBUS_ERROR_RECOVERY_NONE);
	link->bus = bus;
	return link;
}

static void
disconnect(struct link *link)
{
	if (!link->connected)
		return;
	modbus_close(link->modbus);
	link->connected = false;
	link->counts.lost++;
}

void
link_free(struct link *link)
{
	if (!link)
		return;
	disconnect(link);
	modbus_free(link->modbus);
	resolve_free(link->resolve);
	free(link);
}

bool
link_is_ready(struct link *link)
{
	uint8_t byte;
	ssize_t got;

	if (!link->connected)
		return false;
	got = recv(modbus_get_socket(link->modbus), &byte, 1, MSG_PEEK | MSG_DONTWAIT);
	if (got < 0 && (errno == EAGAIN || errno == EWOULDBLOCK))
		return true;
	disconnect(link);
	return false;
}

/* Waits until the connection is there; 0 or an errno. */
static int
finish_connect(int fd, int timeout_ms)
{
	struct pollfd writable = {.fd = fd, .events = POLLOUT};
	int failure = 0;
	socklen_t size = sizeof failure;

	if (TEMP_FAILURE_RETRY(poll(&writable, 1, timeout_ms)) == 0)
		return ETIMEDOUT;
	if (getsockopt(fd, SOL_SOCKET, SO_ERROR, &failure, &size) < 0)
		return errno;
	return failure;
}

/* A connected descriptor, or an errno below 0. */
static int
connect_to(const struct addrinfo *address, int timeout_ms)
{
	int type = address->ai_socktype | SOCK_NONBLOCK | SOCK_CLOEXEC;
	int fd = socket(address->ai_family, type, address->ai_protocol);
	int on = 1, failure = 0;

	if (fd < 0)
		return -errno;
	if (fd >= FD_SETSIZE)
		failure = EMFILE; /* libmodbus's select would abort */
	else if (connect(fd, address->ai_addr, address->ai_addrlen) < 0)
		failure = errno == EINPROGRESS ? finish_connect(fd, timeout_ms) : errno;
	if (failure) {
		close(fd);
		return -failure;
	}
	setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
	return fd;
}

/* Tries each address in turn with an equal share of the time that is left. */
static int
connect_to_any(const struct addrinfo *list, const struct limit *limit)
{
	int left = 0, fd = -ETIMEDOUT;

	for (const struct addrinfo *a = list; a; a = a->ai_next)
		left++;
	for (const struct addrinfo *a = list; a && fd < 0; a = a->ai_next, left--)
		fd = connect_to(a, limit_left_ms(limit) / left);
	return fd;
}

static int
explain_connect(
    const struct link *link, int failure, double timeout_s, struct error *error)
{
	if (failure == ETIMEDOUT)
		return error_set(error, ERROR_TIMEOUT,
		    "connect to %s: timed out after %d ms", link->bus->name,
		    to_ms(timeout_s));
	return error_set(error, ERROR_IO, "connect to %s: %s", link->bus->name,
	    strerrordesc_np(failure));
}

int
link_open(struct link *link, double timeout_s, struct error *error)
{
	struct limit limit = limit_from_now(timeout_s);
	const struct addrinfo *list;
	int result, fd;

	disconnect(link);
	if (!link->resolve)
		link->resolve = resolve_new(link->bus->host, link->bus->port, error);
	if (!link->resolve)
		return ERROR_IO;
	result = resolve_wait(link->resolve, limit_left_ms(&limit), &list, error);
	if (result == ERROR_TIMEOUT)
		return result; /* the next attempt finds what this one asked for */
	fd = result == 0 ? connect_to_any(list, &limit) : -1;
	resolve_free(link->resolve);
	link->resolve = NULL;
	if (result)
		return result;
	if (fd < 0)
		return explain_connect(link, -fd, timeout_s, error);
	modbus_set_socket(link->modbus, fd);
	link->connected = true;
	link->counts.opened++;
	return 0;
}

static enum answer
explain_exchange(int failure, double timeout_s, struct error *error)
{
	switch (failure) {
	case ETIMEDOUT:
		error_set(
		    error, ERROR_TIMEOUT, "timed out after %d ms", to_ms(timeout_s));
		return ANSWER_NONE;
	case EMBBADDATA:
		error_set(
		    error, ERROR_IO, "reply out of step: longer than a frame can be");
		return ANSWER_WRONG;
	case ECONNRESET:
	case EPIPE:
		error_set(error, ERROR_IO, "the device closed the connection");
		return ANSWER_LOST;
	default:
		error_set(error, ERROR_IO, "%s", modbus_strerror(failure));
		return ANSWER_LOST;
	}
}

static enum answer
send_request(int fd, const struct frame_request *request, struct error *error)
{
	uint8_t bytes[FRAME_REQUEST_BYTES];
	size_t length = frame_write_request(request, bytes);
	ssize_t sent = send(fd, bytes, length, MSG_NOSIGNAL);

	if (sent < 0)
		return explain_exchange(errno, 0, error);
	if (sent < (ssize_t)length) {
		error_set(error, ERROR_IO, "the device takes no request");
		return ANSWER_LOST;
	}
	return ANSWER_GOOD;
}

/* Good, and the length of what came. */
static enum answer
receive_reply(struct link *link, double timeout_s, uint8_t *bytes, size_t *length,
    struct error *error)
{
	int64_t us = (int64_t)(timeout_s * 1e6);
	int got;

	modbus_set_response_timeout(
	    link->modbus, (uint32_t)(us / 1000000), (uint32_t)(us % 1000000));
	got = modbus_receive_confirmation(link->modbus, bytes);
	if (got < 0)
		return explain_exchange(errno, timeout_s, error);
	*length = (size_t)got;
	return ANSWER_GOOD;
}

static enum answer
exchange(struct link *link, const struct frame_request *request, double timeout_s,
    uint16_t *words, struct error *error)
{
	uint8_t reply[FRAME_REPLY_BYTES];
	size_t length = 0;
	enum answer answer =
	    send_request(modbus_get_socket(link->modbus), request, error);

	if (answer == ANSWER_GOOD)
		answer = receive_reply(link, timeout_s, reply, &length, error);
	if (answer == ANSWER_GOOD)
		answer = frame_read_reply(request, reply, length, words, error);
	return answer;
}

/* Says which registers, for whoever has to look at their addresses. */
static void
prefix_block(const struct read_block *block, struct error *error)
{
	char text[32];

	frame_block_text(block, text, sizeof text);
	error_prefix(error, ERROR_REFUSED, "read %s", text);
}

enum answer
link_read(struct link *link, const struct device_settings *device,
    const struct read_block *block, uint16_t *words, struct error *error)
{
	struct frame_request request = {
	    .kind = BUS_TCP,
	    .transaction = ++link->transaction,
	    .unit_id = (uint8_t)device->unit_id,
	    .block = *block,
	};
	enum answer answer;

	assert(link->connected);
	answer = exchange(link, &request, device->timeout_s, words, error);
	switch (answer) {
	case ANSWER_GOOD:
	case ANSWER_GATEWAY:
	case ANSWER_COUNT:
		break;
	case ANSWER_ILLEGAL:
	case ANSWER_BUSY:
	case ANSWER_FAULT:
		prefix_block(block, error);
		break;
	case ANSWER_NONE:
	case ANSWER_WRONG:
	case ANSWER_LOST:
		disconnect(link);
		break;
	}
	return answer;
}

struct link_counts
link_counts(const struct link *link)
{
	return link->counts;
}
