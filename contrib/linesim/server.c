/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/server.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "daemon/base/error.h"

enum { CONNECTIONS_MAX = 32, BACKLOG = 8 };

struct connection {
	int fd; /* -1: free */
	enum device device;
	size_t have;
	uint8_t bytes[2 * PROTOCOL_FRAME_MAX];
	/* A late answer; while one waits nothing more is read from this master. */
	size_t waiting;
	int64_t due;
	uint8_t answer[PROTOCOL_FRAME_MAX];
};

struct server {
	int listeners[DEVICE_COUNT]; /* -1: not there */
	uint16_t ports[DEVICE_COUNT];
	struct connection connections[CONNECTIONS_MAX];
	struct protocol_counts counts;
	const char *asked; /* a path, or NULL */
};

static int
listen_at(uint16_t port, uint16_t *chosen, struct error *error)
{
	struct sockaddr_in address = {.sin_family = AF_INET,
	    .sin_port = htons(port),
	    .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t length = sizeof address;
	const int yes = 1;
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);

	if (fd < 0)
		return error_set(
		    error, ERROR_IO, "no socket: %s", strerrordesc_np(errno));
	if (setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes) != 0 ||
	    bind(fd, (struct sockaddr *)&address, sizeof address) != 0 ||
	    listen(fd, BACKLOG) != 0 ||
	    getsockname(fd, (struct sockaddr *)&address, &length) != 0) {
		error_set(error, ERROR_IO, "cannot listen at port %u: %s",
		    (unsigned)port, strerrordesc_np(errno));
		close(fd);
		return ERROR_IO;
	}
	*chosen = ntohs(address.sin_port);
	return fd;
}

struct server *
server_open(uint16_t port, const bool there[DEVICE_COUNT], struct error *error)
{
	struct server *server = calloc(1, sizeof *server);

	if (server == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory for the server");
		return NULL;
	}
	for (int device = 0; device < DEVICE_COUNT; device++)
		server->listeners[device] = -1;
	for (int i = 0; i < CONNECTIONS_MAX; i++)
		server->connections[i].fd = -1;
	for (int device = 0; device < DEVICE_COUNT; device++) {
		uint16_t wanted = port == 0 ? 0 : (uint16_t)(port + device);
		if (!there[device])
			continue;
		server->listeners[device] =
		    listen_at(wanted, &server->ports[device], error);
		if (server->listeners[device] < 0) {
			server_close(server);
			return NULL;
		}
	}
	return server;
}

static void
hang_up(struct connection *connection)
{
	close(connection->fd);
	connection->fd = -1;
}

void
server_close(struct server *server)
{
	if (server == NULL)
		return;
	for (int device = 0; device < DEVICE_COUNT; device++)
		if (server->listeners[device] >= 0)
			close(server->listeners[device]);
	for (int i = 0; i < CONNECTIONS_MAX; i++)
		if (server->connections[i].fd >= 0)
			hang_up(&server->connections[i]);
	free(server);
}

uint16_t
server_port(const struct server *server, enum device device)
{
	return server->ports[device];
}

const struct protocol_counts *
server_counts(const struct server *server)
{
	return &server->counts;
}

void
server_tell_asked(struct server *server, const char *path)
{
	server->asked = path;
}

static void
tell_asked(const struct server *server, uint8_t function)
{
	FILE *file;

	if (server->asked == NULL || server->counts.functions[function] > 1)
		return;
	file = fopen(server->asked, "ae");
	if (file == NULL)
		return;
	fprintf(file, "linesim %u\n", (unsigned)function);
	fclose(file);
}

void
server_wait(struct server *server, int64_t wait_ns, const sigset_t *signals)
{
	struct pollfd fds[DEVICE_COUNT + CONNECTIONS_MAX];
	struct timespec timeout = {
	    .tv_sec = wait_ns / 1000000000, .tv_nsec = wait_ns % 1000000000};
	nfds_t count = 0;

	for (int device = 0; device < DEVICE_COUNT; device++)
		fds[count++] =
		    (struct pollfd){.fd = server->listeners[device], .events = POLLIN};
	for (int i = 0; i < CONNECTIONS_MAX; i++)
		if (server->connections[i].fd >= 0 &&
		    server->connections[i].waiting == 0)
			fds[count++] = (struct pollfd){
			    .fd = server->connections[i].fd, .events = POLLIN};
	ppoll(fds, count, &timeout, signals);
}

/* A master too many is hung up on at once. */
static void
welcome(struct server *server, enum device device)
{
	int fd;

	while ((fd = accept4(server->listeners[device], NULL, NULL,
		    SOCK_CLOEXEC | SOCK_NONBLOCK)) >= 0) {
		const int yes = 1;
		int place = 0;
		while (place < CONNECTIONS_MAX && server->connections[place].fd >= 0)
			place++;
		if (place == CONNECTIONS_MAX) {
			close(fd);
			continue;
		}
		setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
		struct connection *connection = &server->connections[place];
		connection->fd = fd;
		connection->device = device;
		connection->have = connection->waiting = 0;
	}
}

/* An answer always fits the socket of a master that reads its answers. */
static void
reply(struct connection *connection, const uint8_t *answer, size_t length)
{
	ssize_t sent = send(connection->fd, answer, length, MSG_NOSIGNAL);

	if (sent != (ssize_t)length)
		hang_up(connection);
}

/* Answers the complete frames that have come; stops at a late answer. */
static void
answer_frames(struct server *server, struct connection *connection,
    const struct bank *bank, int64_t now)
{
	while (connection->fd >= 0 && connection->waiting == 0) {
		uint8_t answer[PROTOCOL_FRAME_MAX];
		int length = protocol_frame_length(connection->bytes, connection->have);
		if (length == 0)
			return;
		if (length < 0) {
			hang_up(connection);
			return;
		}
		size_t answered = protocol_answer(
		    bank, now, connection->bytes, answer, &server->counts);
		tell_asked(server, connection->bytes[PROTOCOL_HEADER]);
		connection->have -= (size_t)length;
		memmove(
		    connection->bytes, connection->bytes + length, connection->have);
		if (answered > 0 && bank->late_until > now) {
			memcpy(connection->answer, answer, answered);
			connection->waiting = answered;
			connection->due = now + bank->delay_steps;
		} else if (answered > 0)
			reply(connection, answer, answered);
	}
}

/* False when there was nothing, or the master is gone. */
static bool
receive(struct connection *connection)
{
	size_t room = sizeof connection->bytes - connection->have;
	ssize_t got =
	    recv(connection->fd, connection->bytes + connection->have, room, 0);

	if (got > 0) {
		connection->have += (size_t)got;
		return true;
	}
	if (got == 0 || (errno != EAGAIN && errno != EINTR))
		hang_up(connection);
	return false;
}

void
server_serve(struct server *server, const struct registers *registers, int64_t now)
{
	for (int device = 0; device < DEVICE_COUNT; device++)
		welcome(server, (enum device)device);
	for (int i = 0; i < CONNECTIONS_MAX; i++) {
		struct connection *connection = &server->connections[i];
		const struct bank *bank = &registers->banks[connection->device];
		if (connection->fd < 0)
			continue;
		if (connection->waiting > 0 && connection->due <= now) {
			size_t length = connection->waiting;
			connection->waiting = 0;
			reply(connection, connection->answer, length);
			answer_frames(server, connection, bank, now);
		}
		while (connection->fd >= 0 && connection->waiting == 0 &&
		       receive(connection))
			answer_frames(server, connection, bank, now);
	}
}
