/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A serial port: opening it with one clear sentence when that fails, its settings, its
 * bytes, and the lock under which programs take turns on it.  link_serial.c's.
 *
 * libmodbus frames what comes, and does no more: it would set the port up before the
 * lock is held, in the middle of another program's exchange.  The port is left as it is
 * when closed, since another program may be reading it.  One object belongs to one
 * thread; descriptors past FD_SETSIZE are refused.
 */
#ifndef DAEMON_FIELDBUS_PORT_H
#define DAEMON_FIELDBUS_PORT_H

#include "daemon/fieldbus/limit.h"

#include <modbus.h>
#include <stddef.h>
#include <stdint.h>
#include <termios.h>

struct bus_settings;
struct error;

struct port {
	modbus_t *modbus;
	int fd;                 /* -1: closed */
	struct termios termios; /* as they are to be */
	/* What exchange.c noticed of the adapter: */
	bool echoes; /* it echoes what is sent */
	bool plain;  /* nothing comes before an answer but what is known of */
	const struct bus_settings *bus; /* lent */
};

/* 0, or ERROR_MEMORY. */
int port_init(struct port *port, const struct bus_settings *bus);
void port_release(struct port *port); /* closed before */

/* Opens a closed port and sets it up, with the turn in hand: blocks for `wait_s` at most
 * while another program has it, which is then ERROR_BUSY.  Whoever has opened it has the
 * turn: port_yield.  0 or an error. */
int port_open(struct port *port, double wait_s, struct error *error);
void port_close(struct port *port);

/* Of an open port: the adapter is still there.  Does not block. */
bool port_is_well(const struct port *port);

enum port_turn {
	PORT_TURN_FREE,   /* nobody had it */
	PORT_TURN_WAITED, /* another program had it till now */
	PORT_TURN_TAKEN,  /* another program still has it */
};

/* Takes the port for one exchange, and sets it up again if somebody else has changed
 * its settings.  Not when it is taken: then port_yield need not be called. */
enum port_turn port_take(struct port *port, const struct limit *limit);
void port_yield(struct port *port);

/* Who does not get it asks now and then, every `port_nap_s` at the longest, and leaves
 * word meanwhile. */
extern const double port_nap_s;
bool port_is_wanted(const struct port *port); /* by another program, now */

/* Another program of ours has it open. */
bool port_is_shared(const struct port *port);

/* Says why it could not be opened or set up: an errno. */
int port_explain_open(const char *path, int failure, struct error *error);

/* Says that it could not be taken for `wait_s`, and who knows why.  ERROR_BUSY. */
int port_explain_taken(const struct port *port, double wait_s, struct error *error);

/*
 * Tells other programs that have the port open which replies of a unit may come late,
 * by how many bytes of data they have; and asks what the others told.  It lasts as long
 * as the port is open.
 */
enum { PORT_LENGTHS = 256 };
void port_warn(struct port *port, int unit_id, size_t data_bytes);
void port_end_warnings(struct port *port, int unit_id); /* 0: of all units */
/* Sets the bits of `lengths`; false when there are none. */
bool port_warnings(
    struct port *port, int unit_id, uint8_t lengths[static PORT_LENGTHS / 8]);

/* Throws away what came till now. */
void port_flush(struct port *port);

/* Reads up to `room` bytes: 0 when none came in time, below 0 an errno. */
int port_read(
    struct port *port, uint8_t *bytes, size_t room, const struct limit *limit);

/* Reads and throws away for `least_s`, and on until nothing has come for `silence_s`;
 * `most_s` altogether. */
void port_discard(struct port *port, double least_s, double silence_s, double most_s);

/* 3.5 characters, the silence between two frames; fixed above 19200 baud: Modbus over
 * Serial Line V1.02, 2.5.1.1. */
double port_silence_s(const struct bus_settings *bus);

#endif
