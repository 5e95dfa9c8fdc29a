/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/resolve.h"

#include <errno.h>
#include <netdb.h>
#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { HOST_BYTES = 256 };

struct resolve {
	atomic_int owners; /* the caller, and the thread while it looks */
	atomic_bool done;  /* then `failure` and `list` are written */
	int done_fd;       /* readable when done */
	int failure;       /* of getaddrinfo */
	struct addrinfo *list;
	char host[HOST_BYTES], port[8];
};

static void
look_up(struct resolve *resolve, int flags)
{
	struct addrinfo hints = {
	    .ai_socktype = SOCK_STREAM,
	    .ai_flags = flags | AI_NUMERICSERV,
	};

	resolve->failure =
	    getaddrinfo(resolve->host, resolve->port, &hints, &resolve->list);
}

/* Frees with the last owner. */
static void
drop(struct resolve *resolve)
{
	if (atomic_fetch_sub(&resolve->owners, 1) > 1)
		return;
	if (resolve->list)
		freeaddrinfo(resolve->list);
	if (resolve->done_fd >= 0)
		close(resolve->done_fd);
	free(resolve);
}

static void *
run(void *arg)
{
	struct resolve *resolve = arg;

	look_up(resolve, 0);
	atomic_store(&resolve->done, true);
	eventfd_write(resolve->done_fd, 1);
	drop(resolve);
	return NULL;
}

/* Returns 0 or an errno. */
static int
start_thread(struct resolve *resolve)
{
	pthread_t thread;
	int failure;

	resolve->done_fd = eventfd(0, EFD_CLOEXEC);
	if (resolve->done_fd < 0)
		return errno;
	atomic_fetch_add(&resolve->owners, 1);
	failure = pthread_create(&thread, NULL, run, resolve);
	if (failure) {
		atomic_fetch_sub(&resolve->owners, 1);
		return failure;
	}
	pthread_detach(thread);
	return 0;
}

struct resolve *
resolve_new(const char *host, int port, struct error *error)
{
	struct resolve *resolve = calloc(1, sizeof *resolve);
	int failure;

	if (!resolve) {
		error_set(error, ERROR_MEMORY, "look up '%s': out of memory", host);
		return NULL;
	}
	resolve->done_fd = -1;
	atomic_store(&resolve->owners, 1);
	snprintf(resolve->port, sizeof resolve->port, "%d", port);
	if (!text_copy(resolve->host, sizeof resolve->host, host)) {
		error_set(error, ERROR_INVALID, "'%s' is too long for a host", host);
		drop(resolve);
		return NULL;
	}
	look_up(resolve, AI_NUMERICHOST);
	if (resolve->failure == 0) {
		atomic_store(&resolve->done, true);
		return resolve;
	}
	failure = start_thread(resolve);
	if (failure) {
		error_set(error, ERROR_IO, "look up '%s': %s", host,
		    strerrordesc_np(failure));
		drop(resolve);
		return NULL;
	}
	return resolve;
}

void
resolve_free(struct resolve *resolve)
{
	if (resolve)
		drop(resolve);
}

int
resolve_wait(struct resolve *resolve, int timeout_ms, const struct addrinfo **list,
    struct error *error)
{
	struct pollfd done = {.fd = resolve->done_fd, .events = POLLIN};

	if (!atomic_load(&resolve->done))
		TEMP_FAILURE_RETRY(poll(&done, 1, timeout_ms));
	if (!atomic_load(&resolve->done))
		return error_set(error, ERROR_TIMEOUT,
		    "look up '%s': no answer from the name server in %d ms",
		    resolve->host, timeout_ms);
	if (resolve->failure)
		return error_set(error, ERROR_NOT_FOUND, "look up '%s': %s",
		    resolve->host, gai_strerror(resolve->failure));
	*list = resolve->list;
	return 0;
}
