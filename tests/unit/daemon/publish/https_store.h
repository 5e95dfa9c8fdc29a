/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * For tests: the servers of tests/system/servers/https_store.py, in a folder of their own,
 * and what they were asked.
 */
#ifndef TESTS_UNIT_DAEMON_PUBLISH_HTTPS_STORE_H
#define TESTS_UNIT_DAEMON_PUBLISH_HTTPS_STORE_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { HTTPS_SERVERS = 16 };

struct https_store {
	char folder[256];
	pid_t pid;
	FILE *input; /* its end ends the servers */
	int count;
	char names[HTTPS_SERVERS][32];
	int ports[HTTPS_SERVERS];
};

static inline void
https_die(const char *what)
{
	perror(what);
	abort();
}

static inline void
https_start(struct https_store *store)
{
	const char *tmp = getenv("TMPDIR");
	int in[2], out[2];
	char line[64];

	memset(store, 0, sizeof(*store));
	snprintf(store->folder, sizeof(store->folder), "%s/evensoak-https-XXXXXX",
	    tmp != NULL ? tmp : "/tmp");
	if (mkdtemp(store->folder) == NULL || pipe(in) != 0 || pipe(out) != 0 ||
	    (store->pid = fork()) < 0)
		https_die("start the https servers");
	if (store->pid == 0) {
		dup2(in[0], 0);
		dup2(out[1], 1);
		close(in[1]);
		close(out[0]);
		execl("/usr/bin/python3", "python3",
		    "tests/system/servers/https_store.py", store->folder, NULL);
		_exit(127);
	}
	close(in[0]);
	close(out[1]);
	store->input = fdopen(in[1], "w");
	FILE *output = fdopen(out[0], "r");
	while (fgets(line, sizeof(line), output) != NULL &&
	       sscanf(line, "%31s %d", store->names[store->count],
		   &store->ports[store->count]) == 2)
		store->count++;
	if (strcmp(line, "ready\n") != 0)
		https_die("read the ports of the https servers");
	fclose(output);
}

static inline void
https_stop(struct https_store *store)
{
	char command[300];

	fclose(store->input);
	waitpid(store->pid, NULL, 0);
	snprintf(command, sizeof(command), "rm -rf '%s'", store->folder);
	(void)!system(command);
}

static inline int
https_port(const struct https_store *store, const char *name)
{
	for (int i = 0; i < store->count; i++)
		if (strcmp(store->names[i], name) == 0)
			return store->ports[i];
	abort();
}

/* The last request that was written down, a line of JSON. */
static inline void
https_last(const struct https_store *store, char *line, size_t room)
{
	char path[300];

	snprintf(path, sizeof(path), "%s/requests", store->folder);
	FILE *file = fopen(path, "r");
	*line = '\0';
	while (file != NULL && fgets(line, (int)room, file) != NULL) {
	}
	if (file != NULL)
		fclose(file);
}

/* Writes a file of the folder; `path` becomes its own. */
static inline void
https_write(const struct https_store *store, const char *name, const char *text,
    unsigned mode, char path[static 300])
{
	snprintf(path, 300, "%s/%s", store->folder, name);
	FILE *file = fopen(path, "w");
	if (file == NULL || fputs(text, file) < 0 || fclose(file) != 0 ||
	    chmod(path, mode) != 0)
		https_die(path);
}

#endif
