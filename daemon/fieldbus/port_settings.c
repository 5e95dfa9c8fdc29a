/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/port_settings.h"

#include <errno.h>
#include <linux/serial.h>
#include <sys/ioctl.h>

#include "conf/settings.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/port.h"

/* 0 where there is none. */
static speed_t
speed_of(int baud)
{
	static const struct {
		int baud;
		speed_t speed;
	} rows[] = {{1200, B1200}, {2400, B2400}, {4800, B4800}, {9600, B9600},
	    {19200, B19200}, {38400, B38400}, {57600, B57600}, {115200, B115200},
	    {230400, B230400}};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
		if (rows[i].baud == baud)
			return rows[i].speed;
	return 0;
}

/* Bytes as they come: no signals, no translation, no flow control. */
static void
fill_settings(const struct bus_settings *bus, struct termios *termios)
{
	cfmakeraw(termios);
	cfsetspeed(termios, speed_of(bus->baud));
	termios->c_cflag &= ~(tcflag_t)(CRTSCTS | CSTOPB | PARENB | PARODD);
	termios->c_cflag |= CREAD | CLOCAL;
	if (bus->stop_bits == 2)
		termios->c_cflag |= CSTOPB;
	if (bus->parity != PARITY_NONE)
		termios->c_cflag |= PARENB;
	if (bus->parity == PARITY_ODD)
		termios->c_cflag |= PARODD;
	termios->c_iflag &= ~(tcflag_t)(IXOFF | IXANY | INPCK);
	if (bus->parity != PARITY_NONE)
		termios->c_iflag |= INPCK;
	termios->c_cc[VMIN] = 0;
	termios->c_cc[VTIME] = 0;
}

/* What a driver does not take it leaves out, with an error or without a word. */
static int
explain_settings(const struct bus_settings *bus, const struct termios *wanted,
    const struct termios *taken, struct error *error)
{
	tcflag_t differ = wanted->c_cflag ^ taken->c_cflag;

	if (cfgetospeed(wanted) != cfgetospeed(taken))
		return error_set(error, ERROR_INVALID,
		    "open '%s': the port does not take %d baud", bus->path, bus->baud);
	if (differ & (PARENB | PARODD))
		return error_set(error, ERROR_INVALID,
		    "open '%s': the port does not take parity %s", bus->path,
		    words_parity.list[bus->parity]);
	if (differ & CSTOPB)
		return error_set(error, ERROR_INVALID,
		    "open '%s': the port does not take %d stop bits", bus->path,
		    bus->stop_bits);
	if (differ & CSIZE)
		return error_set(error, ERROR_INVALID,
		    "open '%s': the port does not take 8 data bits", bus->path);
	return 0;
}

/* The direction of an RS-485 transceiver: switched by the driver if the settings say so,
 * and else not, whatever an earlier program left. */
static int
settle_rs485(struct port *port, struct error *error)
{
	struct serial_rs485 mode = {0};
	bool told = ioctl(port->fd, TIOCGRS485, &mode) == 0;

	if (!port->bus->rs485) {
		if (!told || !(mode.flags & SER_RS485_ENABLED))
			return 0;
		mode.flags &= ~(uint32_t)SER_RS485_ENABLED;
		if (ioctl(port->fd, TIOCSRS485, &mode) == 0)
			return 0;
		return error_set(error, ERROR_INVALID,
		    "open '%s': its driver switches an RS-485 transceiver and does not "
		    "leave off: say rs485 = yes",
		    port->bus->path);
	}
	mode.flags |= SER_RS485_ENABLED;
	if (told && ioctl(port->fd, TIOCSRS485, &mode) == 0)
		return 0;
	return error_set(error, ERROR_INVALID,
	    "open '%s': its driver cannot switch an RS-485 transceiver: take an "
	    "adapter that does so by itself, and say rs485 = no",
	    port->bus->path);
}

int
port_settle(struct port *port, struct error *error)
{
	const struct bus_settings *bus = port->bus;
	struct termios wanted;
	int failure, result;

	if (tcgetattr(port->fd, &wanted) < 0)
		return port_explain_open(bus->path, errno, error);
	if (!speed_of(bus->baud))
		return error_set(error, ERROR_INVALID,
		    "open '%s': a serial port cannot be set to %d baud", bus->path,
		    bus->baud);
	fill_settings(bus, &wanted);
	failure = tcsetattr(port->fd, TCSANOW, &wanted) < 0 ? errno : 0;
	if (tcgetattr(port->fd, &port->termios) < 0)
		return port_explain_open(bus->path, errno, error);
	result = explain_settings(bus, &wanted, &port->termios, error);
	if (result)
		return result;
	if (failure)
		return port_explain_open(bus->path, failure, error);
	return settle_rs485(port, error);
}
