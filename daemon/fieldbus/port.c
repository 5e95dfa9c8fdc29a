/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/port.h"

#include <errno.h>
#include <fcntl.h>
#include <grp.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/select.h>
#include <sys/stat.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"

static char
parity_letter(enum parity parity)
{
	switch (parity) {
	case PARITY_NONE:
		return 'N';
	case PARITY_EVEN:
		return 'E';
	case PARITY_ODD:
		return 'O';
	}
	return 'N';
}

int
port_init(struct port *port, const struct bus_settings *bus)
{
	*port = (struct port){.fd = -1, .bus = bus};
	port->modbus = modbus_new_rtu(
	    bus->path, bus->baud, parity_letter(bus->parity), 8, bus->stop_bits);
	if (!port->modbus)
		return ERROR_MEMORY;
	/* Without a time-out a byte the response's is a total limit. */
	modbus_set_byte_timeout(port->modbus, 0, 0);
	modbus_set_error_recovery(port->modbus, MODBUS_ERROR_RECOVERY_NONE);
	modbus_set_slave(port->modbus, 1); /* it aborts where none is set */
	return 0;
}

void
port_release(struct port *port)
{
	modbus_free(port->modbus);
}

/* Not modbus_close: that sets the port back to what it was before we opened it, under
 * the hands of a program that has opened it meanwhile. */
void
port_close(struct port *port)
{
	close(port->fd);
	port->fd = -1;
	modbus_set_socket(port->modbus, -1);
}

/* --- opening ---------------------------------------------------------------------- */

static int
explain_permission(const char *path, struct error *error)
{
	struct stat status;
	struct group group, *found = NULL;
	char room[4096];

	if (stat(path, &status) == 0 && (status.st_mode & 0060) == 0060)
		getgrgid_r(status.st_gid, &group, room, sizeof room, &found);
	if (!found)
		return error_set(error, ERROR_IO,
		    "open '%s': no permission, and no group has it either: check its "
		    "owner and mode",
		    path);
	return error_set(error, ERROR_IO,
	    "open '%s': no permission: it is for members of group '%s', so add this "
	    "program's user to it",
	    path, found->gr_name);
}

static int
explain_open(const char *path, int failure, struct error *error)
{
	switch (failure) {
	case ENOENT:
		return error_set(error, ERROR_NOT_FOUND,
		    "open '%s': there is no such port: is the adapter plugged in?",
		    path);
	case EACCES:
	case EPERM:
		return explain_permission(path, error);
	case ENOTTY:
	case EISDIR:
	case EINVAL:
		return error_set(
		    error, ERROR_INVALID, "open '%s': it is no serial port", path);
	case EBUSY:
		return error_set(error, ERROR_BUSY,
		    "open '%s': another program has it for itself alone", path);
	case ENXIO:
	case ENODEV:
	case EIO:
		return error_set(error, ERROR_IO,
		    "open '%s': there is nothing behind it: is the adapter plugged in?",
		    path);
	default:
		return error_set(
		    error, ERROR_IO, "open '%s': %s", path, strerrordesc_np(failure));
	}
}

/* Takes the settings that libmodbus made, and what it leaves as it finds it. */
static int
settle_settings(struct port *port, struct error *error)
{
	const struct bus_settings *bus = port->bus;

	if (tcgetattr(port->fd, &port->termios) < 0)
		return explain_open(bus->path, errno, error);
	/* It takes 9600 in place of what it does not know, without a word. */
	if (cfgetospeed(&port->termios) == B9600 && bus->baud != 9600)
		return error_set(error, ERROR_INVALID,
		    "open '%s': a serial port cannot be set to %d baud", bus->path,
		    bus->baud);
	port->termios.c_cflag &= ~(tcflag_t)CRTSCTS;
	if (tcsetattr(port->fd, TCSANOW, &port->termios) < 0)
		return explain_open(bus->path, errno, error);
	if (bus->rs485 &&
	    modbus_rtu_set_serial_mode(port->modbus, MODBUS_RTU_RS485) < 0)
		return error_set(error, ERROR_INVALID,
		    "open '%s': its driver cannot switch an RS-485 transceiver: take "
		    "an adapter that does so by itself, and say rs485 = no",
		    bus->path);
	return 0;
}

int
port_open(struct port *port, struct error *error)
{
	int result;

	if (modbus_connect(port->modbus) < 0) {
		modbus_set_socket(port->modbus, -1);
		return explain_open(port->bus->path, errno, error);
	}
	port->fd = modbus_get_socket(port->modbus);
	port->echoes = false;       /* it may be another adapter than before */
	if (port->fd >= FD_SETSIZE) /* libmodbus's select would abort */
		result = explain_open(port->bus->path, EMFILE, error);
	else
		result = settle_settings(port, error);
	if (result)
		port_close(port);
	return result;
}

bool
port_is_well(const struct port *port)
{
	struct pollfd fd = {.fd = port->fd, .events = POLLIN};

	return poll(&fd, 1, 0) >= 0 && !(fd.revents & (POLLHUP | POLLERR | POLLNVAL));
}

/* --- taking turns ----------------------------------------------------------------- */

static bool
same_settings(const struct termios *a, const struct termios *b)
{
	return a->c_iflag == b->c_iflag && a->c_oflag == b->c_oflag &&
	       a->c_cflag == b->c_cflag && a->c_lflag == b->c_lflag &&
	       cfgetospeed(a) == cfgetospeed(b);
}

static void
keep_settings(struct port *port)
{
	struct termios now;

	if (tcgetattr(port->fd, &now) == 0 && !same_settings(&now, &port->termios))
		tcsetattr(port->fd, TCSANOW, &port->termios);
}

enum port_turn
port_take(struct port *port, const struct limit *limit)
{
	enum port_turn turn = PORT_TURN_FREE;

	while (flock(port->fd, LOCK_EX | LOCK_NB) < 0 && errno == EWOULDBLOCK) {
		struct limit nap = limit_from_now(0.0003);

		if (limit_is_over(limit))
			return PORT_TURN_TAKEN;
		limit_wait(&nap);
		turn = PORT_TURN_WAITED;
	}
	keep_settings(port);
	return turn;
}

void
port_yield(struct port *port)
{
	flock(port->fd, LOCK_UN);
}

/* --- warnings --------------------------------------------------------------------- */

/*
 * A warning is a lock on a byte of the device file, which has no bytes: number unit id
 * times 256 plus length.  Such locks go with the open file, end with it, and have
 * nothing to do with flock's.
 */
static struct flock
lock_on(short type, int unit_id, size_t length, off_t count)
{
	return (struct flock){
	    .l_type = type,
	    .l_whence = SEEK_SET,
	    .l_start = (off_t)unit_id * PORT_LENGTHS + (off_t)length,
	    .l_len = count,
	};
}

void
port_warn(struct port *port, int unit_id, size_t data_bytes)
{
	struct flock lock = lock_on(F_RDLCK, unit_id, data_bytes, 1);

	fcntl(port->fd, F_OFD_SETLK, &lock);
}

void
port_end_warnings(struct port *port, int unit_id)
{
	struct flock lock = lock_on(
	    F_UNLCK, unit_id, 0, unit_id ? PORT_LENGTHS : 0); /* 0: to the end */

	fcntl(port->fd, F_OFD_SETLK, &lock);
}

/* Whether another program holds one of the locks. */
static bool
is_warned(const struct port *port, int unit_id, size_t length, off_t count)
{
	struct flock lock = lock_on(F_WRLCK, unit_id, length, count);

	return fcntl(port->fd, F_OFD_GETLK, &lock) == 0 && lock.l_type != F_UNLCK;
}

bool
port_warnings(struct port *port, int unit_id, uint8_t lengths[static PORT_LENGTHS / 8])
{
	if (!is_warned(port, unit_id, 0, PORT_LENGTHS))
		return false;
	for (size_t length = 0; length < PORT_LENGTHS; length++)
		if (is_warned(port, unit_id, length, 1))
			lengths[length / 8] |= (uint8_t)(1U << length % 8);
	return true;
}

/* --- bytes ------------------------------------------------------------------------ */

void
port_flush(struct port *port)
{
	tcflush(port->fd, TCIOFLUSH);
}

int
port_read(struct port *port, uint8_t *bytes, size_t room, const struct limit *limit)
{
	struct pollfd readable = {.fd = port->fd, .events = POLLIN};

	for (;;) {
		int ready = poll(&readable, 1, limit_left_ms(limit));
		ssize_t got;

		if (ready == 0)
			return 0;
		got = ready < 0 ? -1 : read(port->fd, bytes, room);
		if (got > 0)
			return (int)got;
		if (got < 0 && errno != EAGAIN && errno != EINTR)
			return -errno;
		/* So it says of a port that is gone, and of bytes that somebody else
		 * has read. */
		if (got == 0 && !port_is_well(port))
			return -EIO;
		if (limit_is_over(limit))
			return 0;
	}
}

void
port_discard(struct port *port, double least_s, double silence_s, double most_s)
{
	struct limit least = limit_from_now(least_s), most = limit_from_now(most_s);
	uint8_t bytes[256];

	while (!limit_is_over(&most)) {
		struct limit wait = limit_from_now(silence_s);
		int got;

		if (limit_left_ns(&least) > wait.ns)
			wait = least;
		got = port_read(port, bytes, sizeof bytes, &wait);
		if (got < 0 || (got == 0 && limit_is_over(&least)))
			return;
	}
}

double
port_silence_s(const struct bus_settings *bus)
{
	int bits = 1 + 8 + (bus->parity != PARITY_NONE) + bus->stop_bits;

	return bus->baud > 19200 ? 0.00175 : 3.5 * bits / bus->baud;
}
