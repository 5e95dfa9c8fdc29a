/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One request on a serial line and what comes back; link_serial.c's.
 *
 * libmodbus frames what comes and looks at its check sum; frame.c looks at all of it.
 * Frames of other units are passed over while there is time.  An adapter that echoes
 * what is sent is noticed by the first echo, and its echo read and compared from then
 * on.  An answer can be the very bytes of its request: while nothing has been answered
 * that could not be an echo, one is taken for an echo, and without another behind it for
 * no answer.  The block is then asked for behind a shorter one (link_serial.h), whose
 * answer tells what the adapter does.  One object belongs to one thread.
 */
#ifndef DAEMON_FIELDBUS_EXCHANGE_H
#define DAEMON_FIELDBUS_EXCHANGE_H

#include "daemon/fieldbus/frame.h"
#include "daemon/fieldbus/limit.h"

struct device_settings;
struct error;
struct port;

/* Read `request` and `damaged`; the rest is its own. */
struct exchange {
	struct frame_request request;
	uint8_t asked[FRAME_REQUEST_BYTES];
	size_t asked_bytes;
	double timeout_s;
	struct limit limit;
	uint8_t reply[FRAME_REPLY_BYTES];
	int stranger; /* another unit that answered in its place; -1: none */
	bool twin;    /* what came first is the request's echo, or an answer like it */
	bool damaged; /* the answer came, and it is that, but it cannot be read */
};

/* Nothing is sent yet. */
void exchange_init(struct exchange *exchange, const struct device_settings *device,
    const struct read_block *block);

/* Throws away what came before, sends, and waits for the time-out at most.  Unless the
 * answer is good `words` is untouched. */
enum answer exchange_run(
    struct exchange *exchange, struct port *port, uint16_t *words, struct error *error);

#endif
