/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A real VictoriaMetrics (Debian's victoria-metrics) for tests: in a folder of its own, on
 * a free port of 127.0.0.1, ended by its pid.  It keeps a hundred years and drops samples
 * that come twice, as the README asks of a plant's.
 */
#ifndef TESTS_UNIT_DAEMON_PUBLISH_REAL_VICTORIA_H
#define TESTS_UNIT_DAEMON_PUBLISH_REAL_VICTORIA_H

#include "tests/unit/daemon/publish/real_influx.h"

struct real_victoria {
	struct real_influx server; /* its folder, its port and its pid */
};

static inline bool
victoria_there(void)
{
	return access("/usr/bin/victoria-metrics", X_OK) == 0;
}

static inline void
victoria_prepare(struct real_victoria *victoria)
{
	struct real_influx *server = &victoria->server;
	int ports[2];

	snprintf(server->folder, sizeof(server->folder), "%s/evensoak-victoria-XXXXXX",
	    getenv("TMPDIR") != NULL ? getenv("TMPDIR") : "/tmp");
	char *made = mkdtemp(server->folder);
	assert(made != NULL);
	influx_free_ports(ports);
	server->port = ports[0];
	server->pid = -1;
}

static inline void
victoria_run(const struct real_influx *server)
{
	char log[300], data[300], address[64];

	snprintf(log, sizeof(log), "%s/log", server->folder);
	snprintf(data, sizeof(data), "-storageDataPath=%s/data", server->folder);
	snprintf(
	    address, sizeof(address), "-httpListenAddr=127.0.0.1:%d", server->port);
	prctl(PR_SET_PDEATHSIG, SIGTERM); /* also when a test is aborted */
	int fd = open(log, O_WRONLY | O_CREAT | O_APPEND, 0600);
	dup2(fd, STDOUT_FILENO);
	dup2(fd, STDERR_FILENO);
	execl("/usr/bin/victoria-metrics", "victoria-metrics", data, address,
	    "-retentionPeriod=100y", "-dedup.minScrapeInterval=1ms",
	    "-loggerLevel=WARN", "-search.maxUniqueTimeseries=10000000", (char *)NULL);
	_exit(127);
}

static inline void
victoria_start(struct real_victoria *victoria)
{
	struct real_influx *server = &victoria->server;

	server->pid = fork();
	assert(server->pid >= 0);
	if (server->pid == 0)
		victoria_run(server);
	for (int i = 0; i < 1000; i++) {
		char *answer = influx_ask(server, "GET /health HTTP/1.0\r\n\r\n");
		free(answer);
		if (answer != NULL)
			return;
		usleep(20000);
	}
	assert(!"victoria-metrics does not answer");
}

/* What it has acknowledged in the last seconds is gone. */
static inline void
victoria_kill(struct real_victoria *victoria)
{
	kill(victoria->server.pid, SIGKILL);
	waitpid(victoria->server.pid, NULL, 0);
	victoria->server.pid = -1;
}

static inline void
victoria_close(struct real_victoria *victoria)
{
	influx_close(&victoria->server);
}

/* Of all series that `match` selects (a selector, encoded for a URL), one line of JSON
 * each, as /api/v1/export gives them; the caller frees. */
static inline char *
victoria_export(struct real_victoria *victoria, const char *match)
{
	char request[1024];

	free(influx_ask(
	    &victoria->server, "GET /internal/force_flush HTTP/1.0\r\n\r\n"));
	snprintf(request, sizeof(request),
	    "GET /api/v1/export?match[]=%s HTTP/1.0\r\n\r\n", match);
	char *answer = influx_ask(&victoria->server, request);
	assert(answer != NULL);
	char *body = strstr(answer, "\r\n\r\n");
	assert(body != NULL && strstr(answer, " 200 OK") != NULL);
	memmove(answer, body + 4, strlen(body + 4) + 1);
	return answer;
}

#endif
