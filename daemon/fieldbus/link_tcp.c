/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/link_tcp.h"

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
#include "daemon/base/error.h"
#include "daemon/fieldbus/frame.h"
#include "daemon/fieldbus/limit.h"
#include "daemon/fieldbus/resolve.h"

/*
 * What libmodbus does here: the framing of replies and their time-out.  What it does
 * not, and why:
 *  - connecting: it calls select, which aborts the process on a descriptor past
 *    FD_SETSIZE, and tells every failure as "refused";
 *  - sending: modbus_send_raw_request always writes transaction 0;
 *  - checking: over TCP its own reads take a wrong unit id, protocol or length.
 */
struct link_tcp {
	modbus_t *modbus;
	struct resolve *resolve; /* a look-up that has not answered yet, or NULL */
	uint16_t transaction;
	const struct bus_settings *bus; /* lent */
};

struct link_tcp *
link_tcp_new(const struct bus_settings *bus)
{
	struct link_tcp *tcp = calloc(1, sizeof *tcp);

	if (!tcp)
		return NULL;
	/* The address is not used: the socket is ours. */
	tcp->modbus = modbus_new_tcp("0.0.0.0", bus->port);
	if (!tcp->modbus) {
		free(tcp);
		return NULL;
	}
	/* Without a time-out a byte the response's is a total limit; with it a device
	 * that drips a byte now and then could hold us for minutes. */
	modbus_set_byte_timeout(tcp->modbus, 0, 0);
	modbus_set_error_recovery(tcp->modbus, MODBUS_ERROR_RECOVERY_NONE);
	tcp->bus = bus;
	return tcp;
}

void
link_tcp_free(struct link_tcp *tcp)
{
	if (!tcp)
		return;
	modbus_free(tcp->modbus);
	resolve_free(tcp->resolve);
	free(tcp);
}

void
link_tcp_close(struct link_tcp *tcp)
{
	modbus_close(tcp->modbus);
}

bool
link_tcp_is_well(struct link_tcp *tcp)
{
	uint8_t byte;
	ssize_t got =
	    recv(modbus_get_socket(tcp->modbus), &byte, 1, MSG_PEEK | MSG_DONTWAIT);

	return got < 0 && (errno == EAGAIN || errno == EWOULDBLOCK);
}

/* --- connecting ------------------------------------------------------------------- */

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

static void
set_option(int fd, int level, int option, int value)
{
	setsockopt(fd, level, option, &value, sizeof value);
}

/* A device that lost its power, or a pulled cable, says nothing: with a slow group the
 * next request may be a minute away. */
static void
set_options(int fd)
{
	enum { IDLE_S = 15, INTERVAL_S = 5, TRIES = 3 };

	set_option(fd, IPPROTO_TCP, TCP_NODELAY, 1);
	set_option(fd, IPPROTO_TCP, TCP_KEEPIDLE, IDLE_S);
	set_option(fd, IPPROTO_TCP, TCP_KEEPINTVL, INTERVAL_S);
	set_option(fd, IPPROTO_TCP, TCP_KEEPCNT, TRIES);
	set_option(fd, SOL_SOCKET, SO_KEEPALIVE, 1);
}

/* A connected descriptor, or an errno below 0. */
static int
connect_to(const struct addrinfo *address, int timeout_ms)
{
	int type = address->ai_socktype | SOCK_NONBLOCK | SOCK_CLOEXEC;
	int fd = socket(address->ai_family, type, address->ai_protocol);
	int failure = 0;

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
	set_options(fd);
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
    const struct link_tcp *tcp, int failure, double timeout_s, struct error *error)
{
	if (failure == ETIMEDOUT)
		return error_set(error, ERROR_TIMEOUT,
		    "connect to %s: timed out after %d ms", tcp->bus->name,
		    limit_to_ms(timeout_s));
	return error_set(error, ERROR_IO, "connect to %s: %s", tcp->bus->name,
	    strerrordesc_np(failure));
}

int
link_tcp_open(struct link_tcp *tcp, double timeout_s, struct error *error)
{
	struct limit limit = limit_from_now(timeout_s);
	const struct addrinfo *list;
	int result, fd;

	if (!tcp->resolve)
		tcp->resolve = resolve_new(tcp->bus->host, tcp->bus->port, error);
	if (!tcp->resolve)
		return ERROR_IO;
	result = resolve_wait(tcp->resolve, limit_left_ms(&limit), &list, error);
	if (result == ERROR_TIMEOUT)
		return result; /* the next attempt finds what this one asked for */
	fd = result == 0 ? connect_to_any(list, &limit) : -1;
	resolve_free(tcp->resolve);
	tcp->resolve = NULL;
	if (result)
		return result;
	if (fd < 0)
		return explain_connect(tcp, -fd, timeout_s, error);
	modbus_set_socket(tcp->modbus, fd);
	return 0;
}

/* --- reading ---------------------------------------------------------------------- */

static enum answer
explain_exchange(int failure, double timeout_s, struct error *error)
{
	switch (failure) {
	case ETIMEDOUT:
		error_set(error, ERROR_TIMEOUT, "timed out after %d ms",
		    limit_to_ms(timeout_s));
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
receive_reply(struct link_tcp *tcp, double timeout_s, uint8_t *bytes, size_t *length,
    struct error *error)
{
	int64_t us = (int64_t)(timeout_s * 1e6);
	int got;

	modbus_set_response_timeout(
	    tcp->modbus, (uint32_t)(us / 1000000), (uint32_t)(us % 1000000));
	got = modbus_receive_confirmation(tcp->modbus, bytes);
	if (got < 0)
		return explain_exchange(errno, timeout_s, error);
	*length = (size_t)got;
	return ANSWER_GOOD;
}

enum answer
link_tcp_read(struct link_tcp *tcp, const struct device_settings *device,
    const struct read_block *block, uint16_t *words, struct error *error)
{
	struct frame_request request = {
	    .kind = BUS_TCP,
	    .transaction = ++tcp->transaction,
	    .unit_id = (uint8_t)device->unit_id,
	    .block = *block,
	};
	uint8_t reply[FRAME_REPLY_BYTES];
	size_t length = 0;
	enum answer answer =
	    send_request(modbus_get_socket(tcp->modbus), &request, error);

	if (answer == ANSWER_GOOD)
		answer = receive_reply(tcp, device->timeout_s, reply, &length, error);
	if (answer == ANSWER_GOOD)
		answer = frame_read_reply(&request, reply, length, words, error);
	return answer;
}
