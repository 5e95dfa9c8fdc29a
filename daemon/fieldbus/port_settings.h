/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How a serial port is set up: baud, parity, stop bits, RS-485; port.c's.
 */
#ifndef DAEMON_FIELDBUS_PORT_SETTINGS_H
#define DAEMON_FIELDBUS_PORT_SETTINGS_H

struct error;
struct port;

/* Sets up an open port as its bus says, and keeps in port->termios what it has taken.
 * 0, or an error that names what it does not take.  Does not block. */
int port_settle(struct port *port, struct error *error);

#endif
