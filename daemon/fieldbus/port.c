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
#include "daemon/fieldbus/character.h"
#include "daemon/fieldbus/port_settings.h"

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

/* --- locks ------------------------------------------------------------------------ */

/*
 * What programs tell each other are locks on bytes of the device file, which has none.
 * Such locks go with the open file, end with it, and have nothing to do with flock's.
 * Unit id times 256 plus length is a warning; below 256:
 */
enum {
	WANTED_AT,  /* by who holds it */
	PRESENT_AT, /* who holds it has the port open */
};

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

/* Whether another program holds one of the locks. */
static bool
is_locked(const struct port *port, int unit_id, size_t length, off_t count)
{
	struct flock lock = lock_on(F_WRLCK, unit_id, length, count);

	return fcntl(port->fd, F_OFD_GETLK, &lock) == 0 && lock.l_type != F_UNLCK;
}

const double port_nap_s = 0.005;

static void
leave_word(struct port *port, size_t place, short type)
{
	struct flock lock = lock_on(type, 0, place, 1);

	fcntl(port->fd, F_OFD_SETLK, &lock);
}

/* Most have it for some ten milliseconds. */
static double
nap_s(int tries)
{
	static const double naps_s[] = {0.0003, 0.0003, 0.0003, 0.001, 0.002};

	return tries < (int)(sizeof naps_s / sizeof *naps_s) ? naps_s[tries]
	                                                     : port_nap_s;
}

static enum port_turn
wait_for_turn(struct port *port, const struct limit *limit)
{
	enum port_turn turn = PORT_TURN_FREE;

	for (int tries = 0;
	     flock(port->fd, LOCK_EX | LOCK_NB) < 0 && errno == EWOULDBLOCK; tries++) {
		struct limit nap = limit_from_now(nap_s(tries));

		turn = PORT_TURN_TAKEN;
		if (limit_is_over(limit))
			break;
		leave_word(port, WANTED_AT, F_RDLCK);
		limit_wait(&nap);
		turn = PORT_TURN_WAITED;
	}
	if (turn != PORT_TURN_FREE)
		leave_word(port, WANTED_AT, F_UNLCK);
	return turn;
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

int
port_explain_open(const char *path, int failure, struct error *error)
{
	switch (failure) {
	case ENOENT:
		return error_set(error, ERROR_NOT_FOUND,
		    "open '%s': there is no such port: is the adapter plugged in, or "
		    "does the service not let it in: 'evensoak check --drop-in'?",
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

/* Once it is ours alone for the moment. */
static int
set_up(struct port *port, double wait_s, struct error *error)
{
	struct limit limit = limit_from_now(wait_s);

	if (!isatty(port->fd))
		return port_explain_open(port->bus->path, ENOTTY, error);
	leave_word(port, PRESENT_AT, F_RDLCK);
	if (wait_for_turn(port, &limit) == PORT_TURN_TAKEN)
		return port_explain_taken(port, wait_s, error);
	return port_settle(port, error);
}

int
port_open(struct port *port, double wait_s, struct error *error)
{
	int fd = open(port->bus->path, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
	int result;

	if (fd < 0)
		return port_explain_open(port->bus->path, errno, error);
	port->fd = fd;
	port->echoes = port->plain = false; /* it may be another adapter than before */
	if (fd >= FD_SETSIZE)               /* libmodbus's select would abort */
		result = port_explain_open(port->bus->path, EMFILE, error);
	else
		result = set_up(port, wait_s, error);
	if (result)
		port_close(port);
	else
		modbus_set_socket(port->modbus, fd);
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
	enum port_turn turn = wait_for_turn(port, limit);

	if (turn != PORT_TURN_TAKEN)
		keep_settings(port);
	return turn;
}

void
port_yield(struct port *port)
{
	flock(port->fd, LOCK_UN);
}

bool
port_is_wanted(const struct port *port)
{
	return is_locked(port, 0, WANTED_AT, 1);
}

bool
port_is_shared(const struct port *port)
{
	return is_locked(port, 0, PRESENT_AT, 1);
}

int
port_explain_taken(const struct port *port, double wait_s, struct error *error)
{
	return error_set(error, ERROR_BUSY,
	    "another program has held the port for %d ms: 'fuser %s' tells which",
	    limit_to_ms(wait_s), port->bus->path);
}

/* --- warnings --------------------------------------------------------------------- */

void
port_warn(struct port *port, int unit_id, size_t data_bytes)
{
	struct flock lock = lock_on(F_RDLCK, unit_id, data_bytes, 1);

	fcntl(port->fd, F_OFD_SETLK, &lock);
}

void
port_end_warnings(struct port *port, int unit_id)
{
	struct flock lock = unit_id ? lock_on(F_UNLCK, unit_id, 0, PORT_LENGTHS)
	                            : lock_on(F_UNLCK, 1, 0, 0); /* to the end */

	fcntl(port->fd, F_OFD_SETLK, &lock);
}

bool
port_warnings(struct port *port, int unit_id, uint8_t lengths[static PORT_LENGTHS / 8])
{
	if (!is_locked(port, unit_id, 0, PORT_LENGTHS))
		return false;
	for (size_t length = 0; length < PORT_LENGTHS; length++)
		if (is_locked(port, unit_id, length, 1))
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
	return character_silence_s(bus);
}
