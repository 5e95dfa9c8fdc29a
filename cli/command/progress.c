/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/progress.h"

#include <pthread.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

enum { LINE = 79, EVERY_MS = 250 };

struct progress {
	FILE *to;
	double after_s;
	pthread_t thread;
	pthread_mutex_t lock; /* guards the two below */
	pthread_cond_t end;
	char line[LINE];
	bool ended;
};

static struct timespec
from_now(double s)
{
	struct timespec at;

	clock_gettime(CLOCK_MONOTONIC, &at);
	int64_t ns = at.tv_nsec + (int64_t)(s * 1e9);
	at.tv_sec += (time_t)(ns / 1000000000);
	at.tv_nsec = (long)(ns % 1000000000);
	return at;
}

static void *
write_lines(void *arg)
{
	struct progress *progress = arg;
	char written[LINE] = "";
	struct timespec next = from_now(progress->after_s);

	pthread_mutex_lock(&progress->lock);
	while (!progress->ended) {
		if (pthread_cond_timedwait(&progress->end, &progress->lock, &next) == 0)
			continue;
		if (strcmp(progress->line, written) != 0) {
			text_copy(written, LINE, progress->line);
			fprintf(progress->to, "\r%s\033[K", written);
			fflush(progress->to);
		}
		next = from_now(EVERY_MS / 1000.0);
	}
	pthread_mutex_unlock(&progress->lock);
	if (*written) {
		fputs("\r\033[K", progress->to);
		fflush(progress->to);
	}
	return NULL;
}

static bool
start_thread(struct progress *progress)
{
	sigset_t all, before;
	pthread_condattr_t attributes;

	pthread_mutex_init(&progress->lock, NULL);
	pthread_condattr_init(&attributes);
	pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
	pthread_cond_init(&progress->end, &attributes);
	pthread_condattr_destroy(&attributes);
	sigfillset(&all);
	pthread_sigmask(SIG_SETMASK, &all, &before);
	int result = pthread_create(&progress->thread, NULL, write_lines, progress);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	return result == 0;
}

static void
release(struct progress *progress)
{
	pthread_cond_destroy(&progress->end);
	pthread_mutex_destroy(&progress->lock);
	free(progress);
}

struct progress *
progress_start_on(FILE *to, double after_s)
{
	struct progress *progress = calloc(1, sizeof *progress);

	if (!progress)
		return NULL;
	progress->to = to;
	progress->after_s = after_s;
	if (start_thread(progress))
		return progress;
	release(progress);
	return NULL;
}

struct progress *
progress_start(FILE *to, double after_s)
{
	int fd = fileno(to);

	return fd >= 0 && isatty(fd) ? progress_start_on(to, after_s) : NULL;
}

void
progress_tell(struct progress *progress, const char *format, ...)
{
	va_list arguments;

	if (!progress)
		return;
	pthread_mutex_lock(&progress->lock);
	va_start(arguments, format);
	vsnprintf(progress->line, sizeof progress->line, format, arguments);
	va_end(arguments);
	utf8_make_plain(progress->line);
	pthread_mutex_unlock(&progress->lock);
}

void
progress_end(struct progress *progress)
{
	if (!progress)
		return;
	pthread_mutex_lock(&progress->lock);
	progress->ended = true;
	pthread_cond_signal(&progress->end);
	pthread_mutex_unlock(&progress->lock);
	pthread_join(progress->thread, NULL);
	release(progress);
}
