/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A real InfluxDB 1.x (Debian's influxd) for tests: in a folder of its own, on free
 * ports of 127.0.0.1, ended by its pid.
 */
#ifndef TESTS_UNIT_DAEMON_PUBLISH_REAL_INFLUX_H
#define TESTS_UNIT_DAEMON_PUBLISH_REAL_INFLUX_H

#include <arpa/inet.h>
#include <assert.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "daemon/base/text.h"

struct real_influx {
	char folder[256], configuration[300];
	int port;
	pid_t pid;
};

static inline bool
influx_there(void)
{
	return access("/usr/bin/influxd", X_OK) == 0;
}

/* Two ports that were free a moment ago. */
static inline void
influx_free_ports(int ports[2])
{
	int fds[2];

	for (int i = 0; i < 2; i++) {
		struct sockaddr_in at = {.sin_family = AF_INET};
		socklen_t length = sizeof(at);
		at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
		fds[i] = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
		int code = bind(fds[i], (struct sockaddr *)&at, sizeof(at));
		assert(code == 0);
		getsockname(fds[i], (struct sockaddr *)&at, &length);
		ports[i] = ntohs(at.sin_port);
	}
	close(fds[0]);
	close(fds[1]);
}

static inline void
influx_prepare(struct real_influx *influx)
{
	int ports[2];

	snprintf(influx->folder, sizeof(influx->folder), "%s/evensoak-influx-XXXXXX",
	    getenv("TMPDIR") != NULL ? getenv("TMPDIR") : "/tmp");
	char *made = mkdtemp(influx->folder);
	assert(made != NULL);
	snprintf(influx->configuration, sizeof(influx->configuration), "%s/influx.conf",
	    influx->folder);
	influx_free_ports(ports);
	influx->port = ports[0];
	influx->pid = -1;

	FILE *file = fopen(influx->configuration, "w");
	assert(file != NULL);
	fprintf(file,
	    "reporting-disabled = true\nbind-address = \"127.0.0.1:%d\"\n"
	    "[meta]\n  dir = \"%s/meta\"\n  logging-enabled = false\n"
	    "[data]\n  dir = \"%s/data\"\n  wal-dir = \"%s/wal\"\n"
	    "  query-log-enabled = false\n"
	    "[monitor]\n  store-enabled = false\n"
	    "[http]\n  bind-address = \"127.0.0.1:%d\"\n  log-enabled = false\n",
	    ports[1], influx->folder, influx->folder, influx->folder, ports[0]);
	fclose(file);
}

/* Sends `request` over a connection of its own; the whole answer, or NULL. */
static inline char *
influx_ask(struct real_influx *influx, const char *request)
{
	struct sockaddr_in at = {
	    .sin_family = AF_INET, .sin_port = htons((uint16_t)influx->port)};
	struct text answer;
	char buffer[65536];
	ssize_t got;

	at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (connect(fd, (struct sockaddr *)&at, sizeof(at)) != 0) {
		close(fd);
		return NULL;
	}
	text_init(&answer, 256 << 20);
	(void)!send(fd, request, strlen(request), MSG_NOSIGNAL);
	while ((got = read(fd, buffer, sizeof(buffer))) > 0)
		text_add(&answer, buffer, (size_t)got);
	close(fd);
	return answer.bytes;
}

static inline void
influx_start(struct real_influx *influx)
{
	char log[300];

	snprintf(log, sizeof(log), "%s/log", influx->folder);
	influx->pid = fork();
	assert(influx->pid >= 0);
	if (influx->pid == 0) {
		prctl(PR_SET_PDEATHSIG, SIGTERM); /* also when a test is aborted */
		int fd = open(log, O_WRONLY | O_CREAT | O_APPEND, 0600);
		dup2(fd, STDOUT_FILENO);
		dup2(fd, STDERR_FILENO);
		execl("/usr/bin/influxd", "influxd", "-config", influx->configuration,
		    (char *)NULL);
		_exit(127);
	}
	for (int i = 0; i < 1000; i++) {
		char *answer = influx_ask(influx, "GET /ping HTTP/1.0\r\n\r\n");
		free(answer);
		if (answer != NULL)
			return;
		usleep(20000);
	}
	assert(!"influxd does not answer");
}

static inline void
influx_stop(struct real_influx *influx)
{
	if (influx->pid <= 0)
		return;
	kill(influx->pid, SIGTERM);
	waitpid(influx->pid, NULL, 0);
	influx->pid = -1;
}

static inline void
influx_close(struct real_influx *influx)
{
	char command[400];

	influx_stop(influx);
	snprintf(command, sizeof(command), "rm -rf '%s'", influx->folder);
	(void)!system(command);
}

/* The answer to a query, as CSV with times in ns; the caller frees.  `query` has + for
 * blanks and no other character that a URL would change. */
static inline char *
influx_query(struct real_influx *influx, const char *query)
{
	char request[1024];

	snprintf(request, sizeof(request),
	    "POST /query?db=plant&epoch=ns&q=%s HTTP/1.0\r\nAccept: "
	    "application/csv\r\n\r\n",
	    query);
	char *answer = influx_ask(influx, request);
	assert(answer != NULL);
	char *body = strstr(answer, "\r\n\r\n");
	assert(body != NULL && strstr(answer, " 200 OK") != NULL);
	memmove(answer, body + 4, strlen(body + 4) + 1);
	return answer;
}

#endif
