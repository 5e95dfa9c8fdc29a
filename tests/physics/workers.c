/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/physics/workers.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

enum { WORKERS_MAX = 16 };

static void
give_up(const char *what)
{
	perror(what);
	exit(2);
}

/* Every `step`th piece from `first` on. */
static void
work(const struct workers_job *job, int first, int step, int out)
{
	char *result = malloc(job->bytes);

	if (result == NULL)
		_exit(2);
	for (int i = first; i < job->count; i += step) {
		job->work(job->arg, i, result);
		if (write(out, result, job->bytes) != (ssize_t)job->bytes)
			_exit(2);
	}
	_exit(0);
}

static pid_t
start(const struct workers_job *job, int first, int step, FILE **from)
{
	int ends[2];
	pid_t pid;

	fflush(stdout);
	if (pipe(ends) != 0)
		give_up("pipe");
	pid = fork();
	if (pid < 0)
		give_up("fork");
	if (pid == 0) {
		close(ends[0]);
		work(job, first, step, ends[1]);
	}
	close(ends[1]);
	*from = fdopen(ends[0], "r");
	if (*from == NULL)
		give_up("fdopen");
	return pid;
}

void
workers_run(const struct workers_job *job)
{
	long processors = sysconf(_SC_NPROCESSORS_ONLN);
	int count = processors < 1             ? 1
	            : processors > WORKERS_MAX ? WORKERS_MAX
	                                       : (int)processors;
	FILE *from[WORKERS_MAX];
	pid_t pids[WORKERS_MAX];
	char *result = malloc(job->bytes);

	if (result == NULL)
		give_up("memory");
	for (int i = 0; i < count; i++)
		pids[i] = start(job, i, count, &from[i]);
	for (int i = 0; i < job->count; i++) {
		if (fread(result, job->bytes, 1, from[i % count]) != 1) {
			fprintf(stderr, "a process of %d has failed\n", count);
			exit(2);
		}
		job->take(job->arg, i, result);
	}
	for (int i = 0; i < count; i++) {
		fclose(from[i]);
		waitpid(pids[i], NULL, 0);
	}
	free(result);
}
