/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/daemon/fieldbus/liar.h"

#include <arpa/inet.h>
#include <assert.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum { ASK = 12, FUNCTION = 7 };

struct connection {
	struct liar *liar;
	int fd;
};

/* --- sending ------------------------------------------------------------------------------ */

void
liar_wait_us(int us)
{
	usleep((useconds_t)us);
}

/* False when the client is gone. */
static bool
put(int fd, const uint8_t *bytes, int length)
{
	return length <= 0 || send(fd, bytes, (size_t)length, MSG_NOSIGNAL) == length;
}

/* In pieces of `size` bytes; false when the client is gone, or the test over. */
static bool
drip(const struct connection *c, const struct liar_frame *frame, int size, int pause_us)
{
	for (int i = 0; i < frame->length; i += size) {
		int left = frame->length - i;

		if (i > 0)
			liar_wait_us(pause_us);
		if (c->liar->stop ||
		    !put(c->fd, frame->bytes + i, left < size ? left : size))
			return false;
	}
	return true;
}

/* Until the client closes it, without reading a byte. */
static void
sit_half_open(const struct connection *c)
{
	struct pollfd gone = {.fd = c->fd, .events = POLLRDHUP};

	while (!c->liar->stop && poll(&gone, 1, 20) == 0)
		;
}

/* False: the connection ends. */
static bool
deliver(const struct connection *c, enum lie lie, unsigned random,
    const struct liar_frame *f)
{
	int timeout_us = c->liar->timeout_ms * 1000;
	const struct linger reset = {.l_onoff = 1};

	switch (lie) {
	case LIE_SLOW:
		liar_wait_us(timeout_us / 3);
		return put(c->fd, f->bytes, f->length);
	case LIE_LATE:
		liar_wait_us(timeout_us + (int)(random % (2 * (unsigned)timeout_us)));
		return put(c->fd, f->bytes, f->length);
	case LIE_IN_PARTS:
		return drip(c, f, 1 + (int)(random % 7), timeout_us / 100);
	case LIE_DRIP:
		return drip(c, f, 1, timeout_us);
	case LIE_DRIP_FAST:
		return drip(c, f, 1, timeout_us / 4);
	case LIE_SILENT:
		return true;
	case LIE_HALF_OPEN:
		sit_half_open(c);
		return false;
	case LIE_CLOSE:
		return false;
	case LIE_RESET:
		setsockopt(c->fd, SOL_SOCKET, SO_LINGER, &reset, sizeof reset);
		return false;
	case LIE_TRUNCATED_CLOSE:
	case LIE_CLOSE_AFTER:
		put(c->fd, f->bytes, f->length);
		return false;
	case LIE_NONE:
	case LIE_EXTRA:
	case LIE_TWICE:
	case LIE_TRUNCATED:
	case LIE_TRANSACTION:
	case LIE_PROTOCOL:
	case LIE_LENGTH:
	case LIE_UNIT:
	case LIE_FUNCTION:
	case LIE_BYTE_COUNT:
	case LIE_TOO_FEW:
	case LIE_TOO_MANY:
	case LIE_PREVIOUS:
	case LIE_GARBAGE:
	case LIE_EXCEPTION:
	case LIE_EXCEPTION_OTHER:
	case LIE_CRC:
	case LIE_BIT:
	case LIE_NOISE_BEFORE:
	case LIE_ECHO:
	case LIE_COUNT:
		break;
	}
	return put(c->fd, f->bytes, f->length);
}

static bool
serve(const struct connection *c, const uint8_t *ask)
{
	struct liar *liar = c->liar;
	struct liar_frame frame;
	unsigned random;
	enum lie lie;

	liar->functions[ask[FUNCTION]]++;
	pthread_mutex_lock(&liar->mutex);
	lie = liar_choose(liar, &random);
	liar_compose(liar, lie, random, ask, &frame);
	liar_done(liar);
	pthread_mutex_unlock(&liar->mutex);
	return deliver(c, lie, random, &frame);
}

/* --- connections ---------------------------------------------------------------------------- */

static void *
run_connection(void *arg)
{
	struct connection *c = arg;
	struct liar *liar = c->liar;
	uint8_t ask[ASK];
	bool on = true;

	while (on && !liar->stop) {
		struct pollfd readable = {.fd = c->fd, .events = POLLIN};

		if (poll(&readable, 1, 20) > 0)
			on = recv(c->fd, ask, sizeof ask, MSG_WAITALL) == sizeof ask &&
			     serve(c, ask);
	}
	close(c->fd);
	free(c);
	liar->running--;
	return NULL;
}

static void
welcome(struct liar *liar, int fd)
{
	struct connection *c = malloc(sizeof *c);
	pthread_t thread;
	int on = 1, failure;

	assert(c);
	setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
	*c = (struct connection){.liar = liar, .fd = fd};
	liar->connections++;
	liar->running++;
	failure = pthread_create(&thread, NULL, run_connection, c);
	assert(!failure);
	(void)failure;
	pthread_detach(thread);
}

static void *
run(void *arg)
{
	struct liar *liar = arg;
	struct pollfd readable = {.fd = liar->listen_fd, .events = POLLIN};

	while (!liar->stop)
		if (poll(&readable, 1, 20) > 0)
			welcome(liar, accept(liar->listen_fd, NULL, NULL));
	return NULL;
}

void
liar_start(struct liar *liar, int timeout_ms, unsigned seed)
{
	struct sockaddr_in address = {
	    .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t size = sizeof address;
	int failure;

	memset(liar, 0, sizeof *liar);
	liar->timeout_ms = timeout_ms;
	liar->random = seed;
	pthread_mutex_init(&liar->mutex, NULL);
	liar->listen_fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	failure = bind(liar->listen_fd, (struct sockaddr *)&address, size) ||
	          listen(liar->listen_fd, 16) ||
	          getsockname(liar->listen_fd, (struct sockaddr *)&address, &size) ||
	          pthread_create(&liar->thread, NULL, run, liar);
	assert(!failure);
	(void)failure;
	liar->port = ntohs(address.sin_port);
}

void
liar_stop(struct liar *liar)
{
	liar->stop = true;
	pthread_join(liar->thread, NULL);
	while (liar->running > 0)
		liar_wait_us(1000);
	close(liar->serial ? liar->slave : liar->listen_fd);
	if (liar->serial)
		close(liar->master);
	pthread_mutex_destroy(&liar->mutex);
}

void
liar_begin(struct liar *liar, int requests)
{
	pthread_mutex_lock(&liar->mutex);
	liar->burst = requests;
	pthread_mutex_unlock(&liar->mutex);
}
