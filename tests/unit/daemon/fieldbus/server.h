/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A Modbus TCP server for tests that can misbehave, on a free port of 127.0.0.1.
 *
 * Written from the published protocol, without libmodbus and without daemon/fieldbus:
 * what it says is not what those make of it.  A register's or bit's value follows
 * from its unit, table and address, so that a value from elsewhere is told apart.
 */
#ifndef TESTS_UNIT_DAEMON_FIELDBUS_SERVER_H
#define TESTS_UNIT_DAEMON_FIELDBUS_SERVER_H

#include <arpa/inet.h>
#include <assert.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum manner {
	MANNER_HONEST,
	MANNER_LATE, /* answers after delay_ms */
	MANNER_SILENT,
	MANNER_DRIPPING,  /* a byte each delay_ms */
	MANNER_FRAGMENTS, /* pieces of the frame, each a packet */
	MANNER_TRUNCATED, /* the last byte is missing */
	MANNER_HALF,      /* the other half never comes */
	MANNER_CLOSING,   /* in place of an answer */
	MANNER_CLOSING_AFTER,
	MANNER_WRONG_TRANSACTION,
	MANNER_WRONG_PROTOCOL,
	MANNER_WRONG_LENGTH,
	MANNER_WRONG_UNIT,
	MANNER_WRONG_FUNCTION,
	MANNER_WRONG_BYTE_COUNT,
	MANNER_ONE_TOO_FEW,
	MANNER_ONE_TOO_MANY,
	MANNER_EXTRA_BYTES,
	MANNER_TWICE,
	MANNER_NOISE, /* random bytes */
	MANNER_GATEWAY_SILENT,
	MANNER_EXCEPTION, /* of code `exception` */
	MANNER_COUNT
};

enum { SERVER_CONNECTIONS = 64 };

struct server {
	int port, listen_fd;
	atomic_int manner, times; /* requests still to be treated so */
	atomic_int delay_ms, exception;
	atomic_int silent_unit, second_silent_unit; /* -1: none */
	atomic_int closing_unit;          /* in place of its answer; -1: none */
	atomic_int hole_first, hole_last; /* exception 2 when one is asked for */
	atomic_int refusing_unit,
	    refusal;      /* answers all with this exception; -1: none */
	atomic_int noise; /* registers go up by less than this from request to request;
	    0: they stay */
	atomic_int requests, connections;
	atomic_int requests_of[256]; /* by unit */
	atomic_bool stop;
	pthread_t thread;
	struct pollfd fds[1 + SERVER_CONNECTIONS];
	nfds_t fd_count;
};

static inline uint16_t
server_register(int unit, int function, int address)
{
	return (uint16_t)(address * 7 + function * 1000 + unit * 4000);
}

static inline bool
server_bit(int unit, int function, int address)
{
	return (((unsigned)address * 2654435761U) >> 16 ^ (unsigned)(unit + function)) &
	       1;
}

static inline void
server_send(int fd, const uint8_t *bytes, size_t length)
{
	ssize_t sent = send(fd, bytes, length, MSG_NOSIGNAL);

	(void)sent; /* the client may have gone, which is its right */
}

static inline void
server_send_in_pieces(
    int fd, const uint8_t *bytes, size_t length, size_t piece, int pause_ms)
{
	for (size_t i = 0; i < length; i += piece) {
		server_send(fd, bytes + i, length - i < piece ? length - i : piece);
		usleep((useconds_t)pause_ms * 1000);
	}
}

static inline unsigned
server_noise(const struct server *server, int address)
{
	unsigned bits = (unsigned)server->requests * 2654435761U;

	bits = (bits ^ (unsigned)address) * 2246822519U;
	return (bits >> 16) % (unsigned)server->noise;
}

/* An honest answer; its length. */
static inline size_t
server_answer(const struct server *server, const uint8_t *ask, uint8_t *bytes)
{
	int unit = ask[6], function = ask[7];
	int first = ask[8] << 8 | ask[9], count = ask[10] << 8 | ask[11];
	size_t data = function <= 2 ? (size_t)(count + 7) / 8 : 2 * (size_t)count;

	memcpy(bytes, ask, 8);
	bytes[8] = (uint8_t)data;
	if (first <= server->hole_last && first + count > server->hole_first) {
		bytes[7] |= 0x80;
		bytes[8] = 2;
		data = 0;
	}
	if (unit == server->refusing_unit) {
		bytes[7] |= 0x80;
		bytes[8] = (uint8_t)server->refusal;
		data = 0;
	}
	memset(bytes + 9, 0, data);
	for (int i = 0; i < count && data && function <= 2; i++)
		bytes[9 + i / 8] |=
		    (uint8_t)(server_bit(unit, function, first + i) << i % 8);
	for (int i = 0; i < count && data && function > 2; i++) {
		uint16_t value = server_register(unit, function, first + i);

		if (server->noise > 0)
			value = (uint16_t)(value + server_noise(server, first + i));
		bytes[9 + 2 * i] = (uint8_t)(value >> 8);
		bytes[10 + 2 * i] = (uint8_t)value;
	}
	bytes[5] = (uint8_t)(3 + data);
	return 9 + data;
}

/* Makes the honest answer worse; its new length. */
static inline size_t
server_spoil(enum manner manner, uint8_t *bytes, size_t length)
{
	switch (manner) {
	case MANNER_TRUNCATED:
		return length - 1;
	case MANNER_HALF:
		return length / 2;
	case MANNER_WRONG_TRANSACTION:
		bytes[1]--;
		break;
	case MANNER_WRONG_PROTOCOL:
		bytes[3] = 1;
		break;
	case MANNER_WRONG_LENGTH:
		bytes[5]++;
		break;
	case MANNER_WRONG_UNIT:
		bytes[6]++;
		break;
	case MANNER_WRONG_FUNCTION:
		bytes[7] ^= 7; /* 3 and 4 exchanged */
		break;
	case MANNER_WRONG_BYTE_COUNT:
		bytes[8] = (uint8_t)(bytes[8] - 2);
		break;
	case MANNER_ONE_TOO_FEW:
		bytes[5] = (uint8_t)(bytes[5] - 2);
		bytes[8] = (uint8_t)(bytes[8] - 2);
		return length - 2;
	case MANNER_ONE_TOO_MANY:
		bytes[5] = (uint8_t)(bytes[5] + 2);
		bytes[8] = (uint8_t)(bytes[8] + 2);
		return length + 2;
	case MANNER_EXTRA_BYTES:
		return length + 5;
	case MANNER_TWICE:
		memcpy(bytes + length, bytes, length);
		return 2 * length;
	case MANNER_NOISE:
		for (size_t i = 0; i < length; i++)
			bytes[i] = (uint8_t)rand();
		break;
	case MANNER_GATEWAY_SILENT:
	case MANNER_EXCEPTION:
		bytes[5] = 3;
		bytes[7] |= 0x80;
		bytes[8] = 11;
		return 9;
	case MANNER_FRAGMENTS:
	case MANNER_HONEST:
	case MANNER_LATE:
	case MANNER_SILENT:
	case MANNER_DRIPPING:
	case MANNER_CLOSING:
	case MANNER_CLOSING_AFTER:
	case MANNER_COUNT:
		break;
	}
	return length;
}

static inline enum manner
server_next_manner(struct server *server)
{
	if (server->times <= 0)
		return MANNER_HONEST;
	server->times--;
	return (enum manner)server->manner;
}

/* False: close the connection. */
static inline bool
server_serve(struct server *server, int fd)
{
	uint8_t ask[12], bytes[600] = {0};
	enum manner manner;
	size_t length;

	if (recv(fd, ask, sizeof ask, MSG_WAITALL) != sizeof ask)
		return false;
	assert(ask[7] >= 1 && ask[7] <= 4); /* nothing but reading, ever */
	server->requests++;
	server->requests_of[ask[6]]++;
	if (ask[6] == server->silent_unit || ask[6] == server->second_silent_unit)
		return true;
	if (ask[6] == server->closing_unit)
		return false;
	manner = server_next_manner(server);
	length = server_spoil(manner, bytes, server_answer(server, ask, bytes));
	if (manner == MANNER_SILENT)
		return true;
	if (manner == MANNER_CLOSING)
		return false;
	if (manner == MANNER_LATE)
		usleep((useconds_t)server->delay_ms * 1000);
	if (manner == MANNER_EXCEPTION)
		bytes[8] = (uint8_t)server->exception;
	if (manner == MANNER_DRIPPING)
		server_send_in_pieces(fd, bytes, length, 1, server->delay_ms);
	else if (manner == MANNER_FRAGMENTS)
		server_send_in_pieces(fd, bytes, length, 5, 2);
	else
		server_send(fd, bytes, length);
	return manner != MANNER_CLOSING_AFTER;
}

static inline void
server_accept(struct server *server)
{
	int fd = accept(server->listen_fd, NULL, NULL), on = 1;

	assert(fd >= 0 && server->fd_count <= SERVER_CONNECTIONS);
	setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
	server->connections++;
	server->fds[server->fd_count++] = (struct pollfd){.fd = fd, .events = POLLIN};
}

static inline void *
server_run(void *arg)
{
	struct server *server = arg;

	server->fds[0] = (struct pollfd){.fd = server->listen_fd, .events = POLLIN};
	server->fd_count = 1;
	while (!server->stop) {
		if (poll(server->fds, server->fd_count, 20) <= 0)
			continue;
		for (nfds_t i = server->fd_count - 1; i > 0; i--) {
			if (!server->fds[i].revents ||
			    server_serve(server, server->fds[i].fd))
				continue;
			close(server->fds[i].fd);
			server->fds[i] = server->fds[--server->fd_count];
		}
		if (server->fds[0].revents)
			server_accept(server);
	}
	for (nfds_t i = 1; i < server->fd_count; i++)
		close(server->fds[i].fd);
	return NULL;
}

/* On the port given, or on a free one when it is 0. */
static inline void
server_start_on(struct server *server, int port)
{
	struct sockaddr_in address = {
	    .sin_family = AF_INET,
	    .sin_port = htons((uint16_t)port),
	    .sin_addr.s_addr = htonl(INADDR_LOOPBACK),
	};
	socklen_t size = sizeof address;
	int on = 1, failure;

	memset(server, 0, sizeof *server);
	server->silent_unit = server->refusing_unit = -1;
	server->second_silent_unit = server->closing_unit = -1;
	server->hole_first = server->hole_last = -1;
	server->listen_fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	setsockopt(server->listen_fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on);
	failure =
	    bind(server->listen_fd, (struct sockaddr *)&address, sizeof address) ||
	    listen(server->listen_fd, SERVER_CONNECTIONS) ||
	    getsockname(server->listen_fd, (struct sockaddr *)&address, &size) ||
	    pthread_create(&server->thread, NULL, server_run, server);
	assert(!failure);
	(void)failure;
	server->port = ntohs(address.sin_port);
}

static inline void
server_start(struct server *server)
{
	server_start_on(server, 0);
}

static inline void
server_stop(struct server *server)
{
	server->stop = true;
	pthread_join(server->thread, NULL);
	close(server->listen_fd);
}

static inline void
server_misbehave(struct server *server, enum manner manner, int times)
{
	server->manner = manner;
	server->times = times;
}

#endif
