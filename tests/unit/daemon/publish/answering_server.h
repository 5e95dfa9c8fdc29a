/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * For tests of questions: whoever listens there and answers as a function says.
 */
#ifndef TESTS_UNIT_DAEMON_PUBLISH_ANSWERING_SERVER_H
#define TESTS_UNIT_DAEMON_PUBLISH_ANSWERING_SERVER_H

#include <arpa/inet.h>
#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

/* What one request is answered; true keeps the connection. */
typedef bool (*answer_function)(int fd);

struct server {
	int listener, port;
	pthread_t thread;
	_Atomic bool stop;
	_Atomic int connections;
	answer_function answer;
	char request[4096]; /* the last one, with its form */
};

static struct server server;

static inline bool
wait_for(int fd)
{
	struct pollfd ready[] = {
	    {.fd = fd, .events = POLLIN}, {.fd = server.listener, .events = POLLIN}};

	while (!server.stop)
		if (poll(ready, 2, 10) > 0)
			return ready[0].revents != 0; /* else somebody new calls */
	return false;
}

/* Reads a request with its form; false when there is none. */
static inline bool
read_request(int fd)
{
	size_t length = 0, form = 0;
	char *end = NULL;

	while (end == NULL || length < (size_t)(end - server.request) + 4 + form) {
		ssize_t got = -1;
		if (wait_for(fd))
			got = read(fd, server.request + length,
			    sizeof(server.request) - 1 - length);
		if (got <= 0)
			return false;
		length += (size_t)got;
		server.request[length] = '\0';
		end = strstr(server.request, "\r\n\r\n");
		const char *field = strcasestr(server.request, "Content-Length: ");
		form = field != NULL ? strtoul(field + 16, NULL, 10) : 0;
	}
	return true;
}

static inline void *
run(void *arg)
{
	(void)arg;
	while (wait_for(server.listener)) {
		int fd = accept(server.listener, NULL, NULL);
		server.connections++;
		while (read_request(fd) && server.answer(fd)) {
		}
		close(fd);
	}
	return NULL;
}

/* False when the other side is gone or the test is over. */
static inline bool
send_bytes(int fd, const char *bytes, size_t length)
{
	while (length > 0 && !server.stop) {
		ssize_t sent = send(fd, bytes, length, MSG_NOSIGNAL);
		if (sent <= 0)
			return false;
		bytes += sent;
		length -= (size_t)sent;
	}
	return length == 0;
}

static inline bool
send_text(int fd, const char *text)
{
	return send_bytes(fd, text, strlen(text));
}

static inline void
pause_ms(long ms)
{
	struct timespec time = {ms / 1000, ms % 1000 * 1000000};

	nanosleep(&time, NULL);
}

static inline int
start_server(void **state)
{
	struct sockaddr_in at = {
	    .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t length = sizeof(at);
	(void)state;

	memset(&server, 0, sizeof(server));
	server.listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (bind(server.listener, (struct sockaddr *)&at, length) != 0 ||
	    listen(server.listener, 8) != 0 ||
	    getsockname(server.listener, (struct sockaddr *)&at, &length) != 0)
		return -1;
	server.port = ntohs(at.sin_port);
	return pthread_create(&server.thread, NULL, run, NULL);
}

static inline int
stop_server(void **state)
{
	(void)state;
	server.stop = true;
	pthread_join(server.thread, NULL);
	return close(server.listener);
}

#endif
