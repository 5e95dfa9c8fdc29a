/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A Modbus TCP server, or a unit on a serial line, that answers properly, and now and then
 * a few requests in one of the ways in which devices, gateways and cables go wrong.
 *
 * Written from the published protocol, without libmodbus and without daemon/fieldbus.
 * What a register holds follows from its unit, table and address and from the time: a
 * value from elsewhere is told apart, and so is one from earlier.  Each connection has
 * a thread of its own, so that an answer that is late on one holds up no other.  A unit on
 * a serial line answers in order, however late, or forgets what it was asked meanwhile.
 *
 * All that waits is measured in time-outs of the client's, so that a second of a real
 * device can be some milliseconds here.
 */
#ifndef TESTS_UNIT_DAEMON_FIELDBUS_LIAR_H
#define TESTS_UNIT_DAEMON_FIELDBUS_LIAR_H

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

enum lie {
	LIE_NONE,
	/* In time, if not as usual: these may be believed. */
	LIE_SLOW,     /* after a third of a time-out */
	LIE_IN_PARTS, /* the answer in pieces */
	LIE_EXTRA,    /* bytes after it that nobody asked for */
	LIE_TWICE,
	LIE_CLOSE_AFTER,
	/* These must not. */
	LIE_FIRST_FALSE,
	LIE_LATE =
	    LIE_FIRST_FALSE, /* by up to three time-outs; it may be in step again */
	LIE_SILENT,
	LIE_HALF_OPEN, /* the connection stays, and nobody reads from it again */
	LIE_DRIP, /* a byte a time-out: a byte a second of a client that waits one */
	LIE_DRIP_FAST, /* four bytes a time-out */
	LIE_TRUNCATED,
	LIE_TRUNCATED_CLOSE,
	LIE_CLOSE,
	LIE_RESET,
	LIE_TRANSACTION,
	LIE_PROTOCOL,
	LIE_LENGTH,
	LIE_UNIT,
	LIE_FUNCTION,
	LIE_BYTE_COUNT,
	LIE_TOO_FEW, /* a register or eight bits less, and everything counted so */
	LIE_TOO_MANY,
	LIE_PREVIOUS, /* what the request before was answered with */
	LIE_GARBAGE,
	LIE_EXCEPTION,       /* of any code, also of none that there is */
	LIE_EXCEPTION_OTHER, /* of another function */
	LIE_CRC,
	LIE_BIT, /* one of the frame is turned */
	LIE_NOISE_BEFORE,
	LIE_ECHO, /* the request comes back before the answer */
	LIE_COUNT
};

enum { LIAR_FRAME = 260 };

struct liar {
	bool serial;
	int port, listen_fd;
	int master, slave; /* of a pseudo-terminal */
	char path[64];
	int timeout_ms; /* of the client's */
	atomic_bool stop;
	atomic_int burst;           /* requests still to be lied to */
	atomic_int told[LIE_COUNT]; /* so often each */
	atomic_int functions[256];  /* requests by their function code */
	atomic_int connections, running;
	pthread_t thread;
	pthread_mutex_t mutex; /* guards what follows */
	unsigned random;
	uint8_t previous[LIAR_FRAME];
	int previous_length;
};

/* Times in which what a register holds stays: a millisecond of the system's. */
int64_t liar_epoch(int64_t mono_ns);

/* What a unit's register, or bit (function 1, 2: 0 or 1), holds in an epoch. */
uint16_t liar_value(int unit, int function, int address, int64_t epoch);

/* Whether a server of its kind can go wrong so. */
bool liar_knows(const struct liar *liar, enum lie lie);

/* On a free port of 127.0.0.1. */
void liar_start(struct liar *liar, int timeout_ms, unsigned seed);

/* On a pseudo-terminal of its own: `path` for the other end. */
void liar_start_serial(struct liar *liar, int timeout_ms, unsigned seed);

void liar_stop(struct liar *liar);

/* Lies to the next `requests`.  `burst` is 0 again when the last of these answers is on
 * its way, on a serial line when it is out. */
void liar_begin(struct liar *liar, int requests);

/* --- for the two kinds ------------------------------------------------------------------ */

struct liar_frame {
	int length;
	uint8_t bytes[2 * LIAR_FRAME + 64];
};

/* Which lie a request gets, and a random number to go with it. */
enum lie liar_choose(struct liar *liar, unsigned *random);

/* The answer to the 12 bytes of a request, made worse so. */
void liar_compose(struct liar *liar, enum lie lie, unsigned random, const uint8_t *ask,
    struct liar_frame *frame);

/* The lie is told. */
void liar_done(struct liar *liar);

/* Of the system's time. */
void liar_wait_us(int us);

#endif
