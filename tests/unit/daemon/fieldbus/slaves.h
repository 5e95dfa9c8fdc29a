/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The units of a serial line for tests, on a pseudo-terminal, that can misbehave.
 *
 * Written from the published protocol, without libmodbus and without daemon/fieldbus.
 * Values are those of server.h: they tell where they are from.  Like real units they
 * answer one request after another, however late.  A pseudo-terminal has no baud rate:
 * what has been written is there.
 */
#ifndef TESTS_UNIT_DAEMON_FIELDBUS_SLAVES_H
#define TESTS_UNIT_DAEMON_FIELDBUS_SLAVES_H

#include <errno.h>
#include <fcntl.h>
#include <pty.h>
#include <stdio.h>
#include <termios.h>
#include <time.h>

#include "tests/unit/daemon/fieldbus/server.h"

enum habit {
	HABIT_HONEST,
	HABIT_LATE, /* after delay_ms */
	HABIT_SILENT,
	HABIT_DRIPPING, /* a byte each delay_ms */
	HABIT_HALF,     /* of the frame, and no more */
	HABIT_IN_PARTS, /* the frame in pieces, delay_ms apart */
	HABIT_BAD_CRC,
	HABIT_NOISE_BEFORE,
	HABIT_NOISE, /* in place of it */
	HABIT_WRONG_UNIT,
	HABIT_STRANGER_BEFORE, /* another unit's frame, then the answer */
	HABIT_WRONG_FUNCTION,
	HABIT_ONE_TOO_FEW,
	HABIT_ONE_TOO_MANY,
	HABIT_EXTRA_BYTES,
	HABIT_TWICE,
	HABIT_COUNT
};

enum { SLAVES_FRAME = 260, SLAVES_QUEUE = 4096 };

struct slaves {
	int master, slave; /* the slave is held open: the line outlives who reads it */
	char path[64];
	atomic_int habit, times; /* requests still to be treated so */
	atomic_int delay_ms;
	atomic_int silent_unit;           /* -1: none */
	atomic_int hole_first, hole_last; /* exception 2 when one is asked for */
	atomic_int late_most_ms;          /* every other answer comes within so much */
	atomic_bool piles_up;             /* each takes its time after the one before */
	atomic_int echo;                  /* the adapter, each request, so often */
	atomic_int requests, damaged;     /* that came; that came wrong */
	atomic_bool stop;
	unsigned seed; /* of the thread's own */
	pthread_t thread;
	int64_t free_ns; /* when the last answer is out */
	size_t head, tail;
	struct slaves_answer {
		int64_t due_ns;
		size_t length;
		uint8_t bytes[SLAVES_FRAME];
	} queue[SLAVES_QUEUE];
};

static inline int64_t
slaves_now_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

/* Reflected polynomial 0xA001 from 0xFFFF: Modbus over Serial Line V1.02, 6.2.2. */
static inline unsigned
slaves_crc(const uint8_t *bytes, size_t length)
{
	unsigned crc = 0xFFFF;

	for (size_t bit = 0; bit < 8 * length; bit++) {
		unsigned differs = (crc ^ (unsigned)bytes[bit / 8] >> bit % 8) & 1;

		crc = crc >> 1 ^ (differs ? 0xA001U : 0U);
	}
	return crc;
}

static inline size_t
slaves_seal(uint8_t *bytes, size_t length)
{
	unsigned crc = slaves_crc(bytes, length);

	bytes[length] = (uint8_t)crc;
	bytes[length + 1] = (uint8_t)(crc >> 8);
	return length + 2;
}

/* An honest answer without its check sum: that of server.h without its header. */
static inline size_t
slaves_answer(const struct slaves *slaves, const uint8_t *ask, uint8_t *bytes)
{
	static const int tcp_prefix = 6;
	struct server server = {
	    .hole_first = slaves->hole_first, .hole_last = slaves->hole_last};
	uint8_t tcp_ask[12] = {0}, tcp[600];
	size_t length;

	memcpy(tcp_ask + tcp_prefix, ask, 6);
	length = server_answer(&server, tcp_ask, tcp) - (size_t)tcp_prefix;
	memcpy(bytes, tcp + tcp_prefix, length);
	return length;
}

/* Makes the honest answer worse; its length with the check sum. */
static inline size_t
slaves_spoil(enum habit habit, uint8_t *bytes, size_t length)
{
	size_t sealed;

	switch (habit) {
	case HABIT_HALF:
		return slaves_seal(bytes, length) / 2 + 1;
	case HABIT_BAD_CRC:
		sealed = slaves_seal(bytes, length);
		bytes[length] ^= 0x10;
		return sealed;
	case HABIT_NOISE_BEFORE:
		sealed = slaves_seal(bytes, length);
		memmove(bytes + 2, bytes, sealed);
		bytes[0] = 0xF8;
		bytes[1] = 0xFE;
		return sealed + 2;
	case HABIT_NOISE:
		for (size_t i = 0; i < length; i++)
			bytes[i] = (uint8_t)(0x80 | i * 37);
		return length;
	case HABIT_WRONG_UNIT:
		bytes[0]++;
		break;
	case HABIT_STRANGER_BEFORE:
		sealed = slaves_seal(bytes, length);
		memmove(bytes + 7, bytes, sealed);
		memcpy(bytes, (uint8_t[]){99, 3, 2, 0x12, 0x34}, 5);
		slaves_seal(bytes, 5);
		return sealed + 7;
	case HABIT_WRONG_FUNCTION:
		bytes[1] ^= 7; /* 3 and 4 exchanged */
		break;
	case HABIT_ONE_TOO_FEW:
		bytes[2] = (uint8_t)(bytes[2] - 2);
		length -= 2;
		break;
	case HABIT_ONE_TOO_MANY:
		bytes[2] = (uint8_t)(bytes[2] + 2);
		memset(bytes + length, 0, 2);
		length += 2;
		break;
	case HABIT_EXTRA_BYTES:
		sealed = slaves_seal(bytes, length);
		memset(bytes + sealed, 0x55, 5);
		return sealed + 5;
	case HABIT_TWICE:
		sealed = slaves_seal(bytes, length);
		memcpy(bytes + sealed, bytes, sealed);
		return 2 * sealed;
	case HABIT_HONEST:
	case HABIT_LATE:
	case HABIT_SILENT:
	case HABIT_DRIPPING:
	case HABIT_IN_PARTS:
	case HABIT_COUNT:
		break;
	}
	return slaves_seal(bytes, length);
}

/* To be sent at its time, or after what is to be sent before it. */
static inline void
slaves_queue(struct slaves *slaves, const uint8_t *bytes, size_t length, int64_t due_ns)
{
	struct slaves_answer *answer = &slaves->queue[slaves->tail++ % SLAVES_QUEUE];

	assert(slaves->tail - slaves->head <= SLAVES_QUEUE && length <= SLAVES_FRAME);
	if (slaves->free_ns < due_ns)
		slaves->free_ns = due_ns;
	answer->due_ns = slaves->free_ns;
	answer->length = length;
	memcpy(answer->bytes, bytes, length);
}

static inline void
slaves_write(struct slaves *slaves, const uint8_t *bytes, size_t length)
{
	ssize_t written = write(slaves->master, bytes, length);

	(void)written; /* the reader may have gone, which is its right */
}

static inline enum habit
slaves_next_habit(struct slaves *slaves)
{
	if (slaves->times <= 0)
		return HABIT_HONEST;
	slaves->times--;
	return (enum habit)slaves->habit;
}

static inline void
slaves_serve(struct slaves *slaves, const uint8_t *ask)
{
	const int64_t ms_ns = 1000000;
	enum habit habit = slaves_next_habit(slaves);
	int64_t now_ns = slaves_now_ns(), delay_ns = slaves->delay_ms * ms_ns;
	uint8_t bytes[600] = {0};
	size_t length = slaves_spoil(habit, bytes, slaves_answer(slaves, ask, bytes));

	if (ask[0] == slaves->silent_unit || habit == HABIT_SILENT)
		return;
	if (slaves->late_most_ms > 0 && rand_r(&slaves->seed) % 2) {
		delay_ns = rand_r(&slaves->seed) % (slaves->late_most_ms * 1000) *
		           (ms_ns / 1000);
		habit = HABIT_LATE;
	}
	if (slaves->piles_up && slaves->free_ns > now_ns)
		delay_ns += slaves->free_ns - now_ns;
	if (habit == HABIT_DRIPPING || habit == HABIT_IN_PARTS) {
		size_t step = habit == HABIT_DRIPPING ? 1 : 4;

		for (size_t i = 0; i < length; i += step)
			slaves_queue(slaves, bytes + i,
			    length - i < step ? length - i : step, now_ns += delay_ns);
	} else {
		slaves_queue(slaves, bytes, length,
		    habit == HABIT_LATE ? now_ns + delay_ns : now_ns);
	}
}

/* What is due; milliseconds to the next, -1 when there is none. */
static inline int
slaves_send_due(struct slaves *slaves)
{
	while (slaves->head < slaves->tail) {
		const struct slaves_answer *answer =
		    &slaves->queue[slaves->head % SLAVES_QUEUE];
		int64_t left_ns = answer->due_ns - slaves_now_ns();

		if (left_ns > 0)
			return (int)(left_ns / 1000000 + 1);
		slaves_write(slaves, answer->bytes, answer->length);
		slaves->head++;
	}
	return -1;
}

static inline void
slaves_take(struct slaves *slaves, const uint8_t *ask, size_t length)
{
	slaves->requests++;
	if (length != 8 || slaves_crc(ask, 8) != 0 || ask[1] < 1 || ask[1] > 4)
		slaves->damaged++;
	else
		slaves_serve(slaves, ask);
}

/* Requests are written whole; one that was given up may lie before another. */
static inline void
slaves_hear(struct slaves *slaves)
{
	uint8_t heard[64];
	ssize_t got = read(slaves->master, heard, sizeof heard);

	if (got <= 0)
		return;
	for (int i = 0; i < slaves->echo; i++)
		slaves_write(slaves, heard, (size_t)got);
	for (size_t at = 0; at < (size_t)got; at += 8)
		slaves_take(
		    slaves, heard + at, (size_t)got - at < 8 ? (size_t)got - at : 8);
}

static inline void *
slaves_run(void *arg)
{
	struct slaves *slaves = arg;
	struct pollfd heard = {.fd = slaves->master, .events = POLLIN};

	while (!slaves->stop) {
		int wait_ms = slaves_send_due(slaves);

		if (wait_ms < 0 || wait_ms > 20)
			wait_ms = 20;
		if (poll(&heard, 1, wait_ms) > 0)
			slaves_hear(slaves);
	}
	return NULL;
}

static inline void
slaves_start(struct slaves *slaves)
{
	struct termios raw;
	int failure;

	memset(slaves, 0, sizeof *slaves);
	slaves->silent_unit = slaves->hole_first = slaves->hole_last = -1;
	slaves->seed = 1;
	failure = openpty(&slaves->master, &slaves->slave, slaves->path, NULL, NULL) ||
	          tcgetattr(slaves->slave, &raw);
	assert(!failure);
	cfmakeraw(&raw);
	failure = tcsetattr(slaves->slave, TCSANOW, &raw) ||
	          fcntl(slaves->master, F_SETFD, FD_CLOEXEC) ||
	          pthread_create(&slaves->thread, NULL, slaves_run, slaves);
	assert(!failure);
	(void)failure;
}

/* Pulls the cable. */
static inline void
slaves_stop(struct slaves *slaves)
{
	slaves->stop = true;
	pthread_join(slaves->thread, NULL);
	close(slaves->master);
	close(slaves->slave);
}

static inline void
slaves_misbehave(struct slaves *slaves, enum habit habit, int times)
{
	slaves->habit = habit;
	slaves->times = times;
}

#endif
