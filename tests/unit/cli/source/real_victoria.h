/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A real VictoriaMetrics (Debian's victoria-metrics) for tests: in a folder of its own, on
 * a free port of 127.0.0.1, ended by its pid.
 */
#ifndef TESTS_UNIT_CLI_SOURCE_REAL_VICTORIA_H
#define TESTS_UNIT_CLI_SOURCE_REAL_VICTORIA_H

#include "tests/unit/daemon/publish/real_influx.h"

#define REAL_VICTORIA "/usr/bin/victoria-metrics"

struct real_victoria {
	struct real_influx as; /* folder, port and process, which it has in common */
};

static inline bool
victoria_there(void)
{
	return access(REAL_VICTORIA, X_OK) == 0;
}

static inline void
victoria_start(struct real_victoria *victoria)
{
	char data[300], port[64], log[300];
	int ports[2];

	snprintf(victoria->as.folder, sizeof victoria->as.folder,
	    "%s/evensoak-victoria-XXXXXX",
	    getenv("TMPDIR") != NULL ? getenv("TMPDIR") : "/tmp");
	char *made = mkdtemp(victoria->as.folder);
	assert(made != NULL);
	influx_free_ports(ports);
	victoria->as.port = ports[0];
	snprintf(data, sizeof data, "-storageDataPath=%s/data", victoria->as.folder);
	snprintf(port, sizeof port, "-httpListenAddr=127.0.0.1:%d", ports[0]);
	snprintf(log, sizeof log, "%s/log", victoria->as.folder);
	victoria->as.pid = fork();
	assert(victoria->as.pid >= 0);
	if (victoria->as.pid == 0) {
		prctl(PR_SET_PDEATHSIG, SIGTERM); /* also when a test is aborted */
		int fd = open(log, O_WRONLY | O_CREAT | O_APPEND, 0600);
		dup2(fd, STDOUT_FILENO);
		dup2(fd, STDERR_FILENO);
		execl(REAL_VICTORIA, REAL_VICTORIA, data, port, "-retentionPeriod=100y",
		    "-dedup.minScrapeInterval=1ms", (char *)NULL);
		_exit(127);
	}
	for (int i = 0; i < 1000; i++) {
		char *answer =
		    influx_ask(&victoria->as, "GET /health HTTP/1.0\r\n\r\n");
		free(answer);
		if (answer != NULL)
			return;
		usleep(20000);
	}
	assert(!"victoria-metrics does not answer");
}

/* Lets what was written be seen at once, not in ten seconds. */
static inline void
victoria_flush(struct real_victoria *victoria)
{
	free(influx_ask(&victoria->as, "GET /internal/force_flush HTTP/1.0\r\n\r\n"));
}

static inline void
victoria_close(struct real_victoria *victoria)
{
	influx_close(&victoria->as);
}

#endif
