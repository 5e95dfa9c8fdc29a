/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/daemon/fieldbus/liar.h"

#include <assert.h>
#include <poll.h>
#include <pty.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

/* A request on the line, and where a request over TCP has the same bytes. */
enum { ASK = 6, CRC = 2, TCP_ASK = 12, TCP_UNIT = 6, FUNCTION = 1 };

/* Modbus over Serial Line V1.02, 6.2.2: polynomial A001, beginning with FFFF. */
static unsigned
crc_of(const uint8_t *bytes, int length)
{
	unsigned rest = 0xffff;

	for (int i = 0; i < length; i++) {
		rest ^= bytes[i];
		for (int bit = 0; bit < 8; bit++)
			rest = rest & 1 ? rest >> 1 ^ 0xa001 : rest >> 1;
	}
	return rest;
}

static void
add_crc(struct liar_frame *frame)
{
	unsigned crc = crc_of(frame->bytes, frame->length);

	frame->bytes[frame->length++] = (uint8_t)crc;
	frame->bytes[frame->length++] = (uint8_t)(crc >> 8);
}

/* Puts `count` bytes before the frame. */
static void
put_before(struct liar_frame *frame, const uint8_t *bytes, int count)
{
	memmove(frame->bytes + count, frame->bytes, (size_t)frame->length);
	memcpy(frame->bytes, bytes, (size_t)count);
	frame->length += count;
}

/* The lies that are told of the whole frame, checksum and all. */
static void
spoil_line(enum lie lie, unsigned random, const uint8_t *ask, struct liar_frame *frame)
{
	int noise = 1 + (int)(random % 8), length = frame->length;

	if (lie == LIE_CRC)
		frame->bytes[length - 1 - (int)(random % 2)] ^=
		    (uint8_t)(1 + random % 255);
	else if (lie == LIE_BIT)
		frame->bytes[random / 8 % (unsigned)length] ^=
		    (uint8_t)(1 << random % 8);
	else if (lie == LIE_TRUNCATED)
		frame->length = (int)(random % (unsigned)length);
	else if (lie == LIE_NOISE_BEFORE)
		put_before(
		    frame, (const uint8_t *)"\x05\xff\x11\x03\x02\x80\x00\x41", noise);
	else if (lie == LIE_ECHO)
		put_before(frame, ask, ASK + CRC);
	else if (lie == LIE_EXTRA)
		frame->length += noise;
	else if (lie == LIE_TWICE)
		put_before(frame, frame->bytes, length);
	else if (lie == LIE_GARBAGE)
		for (frame->length = 0; frame->length < noise * 20; frame->length++)
			frame->bytes[frame->length] = (uint8_t)(rand_r(&random) >> 7);
}

static void
compose(struct liar *liar, enum lie lie, unsigned random, const uint8_t *ask,
    struct liar_frame *frame)
{
	uint8_t tcp[TCP_ASK] = {0};
	bool whole = lie == LIE_TRUNCATED || lie == LIE_EXTRA || lie == LIE_TWICE ||
	             lie == LIE_GARBAGE;

	memcpy(tcp + TCP_UNIT, ask, ASK);
	liar_compose(liar, whole ? LIE_NONE : lie, random, tcp, frame);
	frame->length -= TCP_UNIT;
	memmove(frame->bytes, frame->bytes + TCP_UNIT, (size_t)frame->length);
	add_crc(frame);
	spoil_line(lie, random, ask, frame);
}

static void
put(struct liar *liar, const struct liar_frame *frame, int size, int pause_us)
{
	for (int i = 0; i < frame->length && !liar->stop; i += size) {
		int left = frame->length - i, piece = left < size ? left : size;

		if (i > 0)
			liar_wait_us(pause_us);
		if (write(liar->master, frame->bytes + i, (size_t)piece) != piece)
			return;
	}
}

static void
deliver(
    struct liar *liar, enum lie lie, unsigned random, const struct liar_frame *frame)
{
	int timeout_us = liar->timeout_ms * 1000;

	if (lie == LIE_SLOW)
		liar_wait_us(timeout_us / 3);
	if (lie == LIE_LATE)
		liar_wait_us(timeout_us + (int)(random % (2 * (unsigned)timeout_us)));
	if (lie == LIE_DRIP)
		put(liar, frame, 1, timeout_us);
	else if (lie == LIE_DRIP_FAST)
		put(liar, frame, 1, timeout_us / 4);
	else if (lie == LIE_IN_PARTS)
		put(liar, frame, 1 + (int)(random % 7), timeout_us / 100);
	else if (lie != LIE_SILENT)
		put(liar, frame, frame->length, 0);
	/* What it was asked meanwhile it answers now, or has forgotten. */
	if (lie >= LIE_FIRST_FALSE && random / 8 % 2)
		tcflush(liar->master, TCIFLUSH);
}

static void
serve(struct liar *liar, const uint8_t *ask)
{
	struct liar_frame frame;
	unsigned random;
	enum lie lie;

	liar->functions[ask[FUNCTION]]++;
	pthread_mutex_lock(&liar->mutex);
	lie = liar_choose(liar, &random);
	compose(liar, lie, random, ask, &frame);
	pthread_mutex_unlock(&liar->mutex);
	deliver(liar, lie, random, &frame);
	if (lie != LIE_NONE)
		liar_done(liar);
}

/* Whole requests, one after another; a pause ends one that is not whole. */
static void *
run(void *arg)
{
	struct liar *liar = arg;
	struct pollfd readable = {.fd = liar->master, .events = POLLIN};
	uint8_t ask[ASK + CRC];
	int have = 0;

	while (!liar->stop) {
		if (poll(&readable, 1, have ? liar->timeout_ms / 2 : 20) <= 0) {
			have = 0;
			continue;
		}
		if (read(liar->master, ask + have, 1) == 1)
			have++;
		if (have < ASK + CRC)
			continue;
		have = 0;
		if (crc_of(ask, ASK + CRC) == 0)
			serve(liar, ask);
		else
			tcflush(liar->master, TCIFLUSH);
	}
	return NULL;
}

void
liar_start_serial(struct liar *liar, int timeout_ms, unsigned seed)
{
	struct termios raw;
	int failure;

	memset(liar, 0, sizeof *liar);
	liar->serial = true;
	liar->timeout_ms = timeout_ms;
	liar->random = seed;
	pthread_mutex_init(&liar->mutex, NULL);
	failure = openpty(&liar->master, &liar->slave, liar->path, NULL, NULL) ||
	          tcgetattr(liar->slave, &raw);
	assert(!failure);
	cfmakeraw(&raw);
	failure = tcsetattr(liar->slave, TCSANOW, &raw) ||
	          pthread_create(&liar->thread, NULL, run, liar);
	assert(!failure);
	(void)failure;
}
