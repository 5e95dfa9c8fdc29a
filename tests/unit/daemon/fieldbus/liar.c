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

#include "daemon/base/clock.h"

enum { ASK = 12, UNIT = 6, FUNCTION = 7, COUNT = 8, DATA = 9 };

struct frame {
	int length;
	uint8_t bytes[2 * LIAR_FRAME + 64];
};

struct connection {
	struct liar *liar;
	int fd;
};

/* --- what its registers hold ---------------------------------------------------------- */

int64_t
liar_epoch(int64_t mono_ns)
{
	return clock_system_ns(mono_ns) / 1000000;
}

uint16_t
liar_value(int unit, int function, int address, int64_t epoch)
{
	uint64_t mixed = (uint64_t)epoch;

	mixed = mixed * 0x9e3779b97f4a7c15U + (uint64_t)(unit * 4 + function);
	mixed = (mixed ^ mixed >> 31) * 0xbf58476d1ce4e5b9U + (uint64_t)address;
	mixed = (mixed ^ mixed >> 29) * 0x94d049bb133111ebU;
	mixed ^= mixed >> 32;
	return (uint16_t)(function <= 2 ? mixed & 1 : mixed & 0xffff);
}

static void
put16(uint8_t *bytes, int value)
{
	bytes[0] = (uint8_t)(value >> 8);
	bytes[1] = (uint8_t)value;
}

static int
get16(const uint8_t *bytes)
{
	return bytes[0] << 8 | bytes[1];
}

/* The honest answer, as things stand now, for `count` registers or bits. */
static void
answer(const uint8_t *ask, int count, struct frame *frame)
{
	int unit = ask[UNIT], function = ask[FUNCTION], first = get16(ask + 8);
	int data = function <= 2 ? (count + 7) / 8 : 2 * count;
	int64_t epoch = liar_epoch(clock_mono().ns);

	memset(frame, 0, sizeof *frame);
	memcpy(frame->bytes, ask, COUNT);
	put16(frame->bytes + 4, 3 + data);
	frame->bytes[COUNT] = (uint8_t)data;
	for (int i = 0; i < count; i++) {
		uint16_t value = liar_value(unit, function, first + i, epoch);

		if (function <= 2)
			frame->bytes[DATA + i / 8] |= (uint8_t)(value << i % 8);
		else
			put16(frame->bytes + DATA + 2 * i, value);
	}
	frame->length = DATA + data;
}

static void
except(const uint8_t *ask, int function, unsigned code, struct frame *frame)
{
	memcpy(frame->bytes, ask, COUNT);
	put16(frame->bytes + 4, 3);
	frame->bytes[FUNCTION] = (uint8_t)(function | 0x80);
	frame->bytes[COUNT] = (uint8_t)code;
	frame->length = DATA;
}

/* --- making it worse -------------------------------------------------------------------- */

/* Something other than it was. */
static void
spoil(uint8_t *byte, unsigned random)
{
	*byte = (uint8_t)(*byte + 1 + random % 255);
}

/* What comes with a field that is wrong is of no use either: whoever believes it is found
 * out by what he reads. */
static void
spoil_data(enum lie lie, unsigned random, struct frame *f)
{
	if (lie < LIE_TRANSACTION || lie > LIE_TOO_MANY)
		return;
	for (int i = DATA; i < f->length; i++)
		spoil(f->bytes + i, random >> i % 8);
}

/* Changes what is in the frame; how it is sent is another matter. */
static void
spoil_frame(struct liar *liar, enum lie lie, unsigned random, const uint8_t *ask,
    struct frame *f)
{
	int count = get16(ask + 10), step = ask[FUNCTION] <= 2 ? 8 : 1;

	switch (lie) {
	case LIE_TRANSACTION:
		spoil(f->bytes + random / 256 % 2, random);
		break;
	case LIE_PROTOCOL:
		spoil(f->bytes + 2 + random / 256 % 2, random);
		break;
	case LIE_LENGTH:
		spoil(f->bytes + 4 + random / 256 % 2, random);
		break;
	case LIE_UNIT:
		spoil(f->bytes + UNIT, random);
		break;
	case LIE_FUNCTION:
		spoil(f->bytes + FUNCTION, random);
		break;
	case LIE_BYTE_COUNT:
		spoil(f->bytes + COUNT, random);
		break;
	case LIE_TOO_FEW:
		answer(ask, count > step ? count - step : 0, f);
		break;
	case LIE_TOO_MANY:
		answer(ask, count + step, f);
		break;
	case LIE_EXTRA:
		f->length += 1 + (int)(random % 16);
		break;
	case LIE_TWICE:
		memcpy(f->bytes + f->length, f->bytes, (size_t)f->length);
		f->length *= 2;
		break;
	case LIE_TRUNCATED:
	case LIE_TRUNCATED_CLOSE:
		f->length = (int)(random % (unsigned)f->length);
		break;
	case LIE_PREVIOUS:
		f->length = liar->previous_length;
		memcpy(f->bytes, liar->previous, LIAR_FRAME);
		break;
	case LIE_GARBAGE:
		f->length = 1 + (int)(random % (2 * LIAR_FRAME));
		for (int i = 0; i < f->length; i++)
			f->bytes[i] = (uint8_t)(rand_r(&random) >> 7);
		break;
	case LIE_EXCEPTION:
		except(
		    ask, ask[FUNCTION], random % 2 ? random / 2 % 12 : random / 2, f);
		break;
	case LIE_EXCEPTION_OTHER:
		except(ask, ask[FUNCTION] % 4 + 1, 1 + random % 11, f);
		break;
	case LIE_NONE:
	case LIE_SLOW:
	case LIE_IN_PARTS:
	case LIE_CLOSE_AFTER:
	case LIE_LATE:
	case LIE_SILENT:
	case LIE_HALF_OPEN:
	case LIE_DRIP:
	case LIE_DRIP_FAST:
	case LIE_CLOSE:
	case LIE_RESET:
	case LIE_COUNT:
		break;
	}
}

/* Which lie this request gets. */
static enum lie
choose(struct liar *liar, unsigned *random)
{
	enum lie lie = LIE_NONE;

	*random = (unsigned)rand_r(&liar->random);
	if (liar->burst > 0) {
		lie = (enum lie)(1 + (unsigned)rand_r(&liar->random) % (LIE_COUNT - 1));
		if (liar->burst == 1)
			liar->honest_since_ns = clock_mono().ns;
		liar->burst--;
	}
	liar->told[lie]++;
	return lie;
}

/* --- sending ------------------------------------------------------------------------------ */

static void
wait_us(int us)
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
drip(const struct connection *c, const struct frame *frame, int size, int pause_us)
{
	for (int i = 0; i < frame->length; i += size) {
		int left = frame->length - i;

		if (i > 0)
			wait_us(pause_us);
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
deliver(
    const struct connection *c, enum lie lie, unsigned random, const struct frame *f)
{
	int timeout_us = c->liar->timeout_ms * 1000;
	const struct linger reset = {.l_onoff = 1};

	switch (lie) {
	case LIE_SLOW:
		wait_us(timeout_us / 3);
		return put(c->fd, f->bytes, f->length);
	case LIE_LATE:
		wait_us(timeout_us + (int)(random % (2 * (unsigned)timeout_us)));
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
	case LIE_COUNT:
		break;
	}
	return put(c->fd, f->bytes, f->length);
}

static bool
serve(const struct connection *c, const uint8_t *ask)
{
	struct liar *liar = c->liar;
	struct frame frame, honest;
	unsigned random;
	enum lie lie;

	liar->functions[ask[FUNCTION]]++;
	pthread_mutex_lock(&liar->mutex);
	lie = choose(liar, &random);
	answer(ask, get16(ask + 10), &honest);
	frame = honest;
	spoil_frame(liar, lie, random, ask, &frame);
	spoil_data(lie, random, &frame);
	memcpy(liar->previous, honest.bytes, LIAR_FRAME);
	liar->previous_length = honest.length;
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
		wait_us(1000);
	close(liar->listen_fd);
	pthread_mutex_destroy(&liar->mutex);
}

void
liar_begin(struct liar *liar, int requests)
{
	pthread_mutex_lock(&liar->mutex);
	liar->burst = requests;
	pthread_mutex_unlock(&liar->mutex);
}
