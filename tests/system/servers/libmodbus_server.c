/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * libmodbus_server tcp PORT CELLS | rtu TTY CELLS: libmodbus's own server (modbus_reply)
 * serving the units in CELLS, lines "UNIT FUNCTION ADDRESS VALUE"; over TCP to several
 * masters, on a serial line the first unit alone.  Registers are put raw: the float
 * setters of libmodbus 3.1.6 do not fit its getters.
 *
 * A file "libmodbus" in the folder EVENSOAK_ASKED is told each function code that is
 * asked for, once.  Runs until it is killed.
 */
#include <errno.h>
#include <modbus.h>
#include <poll.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { UNITS = 256, TABLE_CELLS = 1024, MASTERS = 32, BAUD = 19200 };

static modbus_mapping_t *units[UNITS];
static bool seen[256];

static int
fail(const char *what)
{
	fprintf(stderr, "libmodbus_server: %s: %s\n", what, modbus_strerror(errno));
	return 3;
}

static void
put_cell(modbus_mapping_t *map, int function, int address, uint16_t value)
{
	switch (function) {
	case 1:
		map->tab_bits[address] = (uint8_t)value;
		break;
	case 2:
		map->tab_input_bits[address] = (uint8_t)value;
		break;
	case 3:
		map->tab_registers[address] = value;
		break;
	case 4:
		map->tab_input_registers[address] = value;
		break;
	default:
		break;
	}
}

/* The first unit, or 0. */
static int
read_cells(const char *path)
{
	FILE *file = fopen(path, "re");
	int first = 0, unit, function, address, value;

	if (!file)
		return 0;
	while (fscanf(file, "%d %d %d %d", &unit, &function, &address, &value) == 4) {
		if (unit < 1 || unit >= UNITS || address < 0 || address >= TABLE_CELLS)
			continue;
		if (!units[unit])
			units[unit] = modbus_mapping_new(
			    TABLE_CELLS, TABLE_CELLS, TABLE_CELLS, TABLE_CELLS);
		if (!units[unit])
			break;
		first = first ? first : unit;
		put_cell(units[unit], function, address, (uint16_t)value);
	}
	fclose(file);
	return first;
}

static void
tell_asked(uint8_t function)
{
	const char *folder = getenv("EVENSOAK_ASKED");
	char path[4096];
	FILE *file;

	if (seen[function] || !folder)
		return;
	seen[function] = true;
	snprintf(path, sizeof path, "%s/libmodbus", folder);
	file = fopen(path, "ae");
	if (!file)
		return;
	fprintf(file, "libmodbus %u\n", function);
	fclose(file);
}

/* Answers one request; false when the master is gone. */
static bool
serve(modbus_t *modbus)
{
	uint8_t ask[MODBUS_MAX_ADU_LENGTH];
	int header = modbus_get_header_length(modbus);
	int length = modbus_receive(modbus, ask);

	if (length <= 0)
		return length == 0;
	tell_asked(ask[header]);
	if (!units[ask[header - 1]])
		return true; /* nobody of that number: silence */
	return modbus_reply(modbus, ask, length, units[ask[header - 1]]) >= 0;
}

static int
serve_tcp(const char *port)
{
	modbus_t *modbus = modbus_new_tcp("127.0.0.1", atoi(port));
	struct pollfd fds[1 + MASTERS];
	nfds_t count = 1;
	int listener = modbus ? modbus_tcp_listen(modbus, MASTERS) : -1;

	if (listener < 0)
		return fail("listen");
	fds[0] = (struct pollfd){.fd = listener, .events = POLLIN};
	for (;;) {
		if (poll(fds, count, -1) <= 0)
			continue;
		for (nfds_t i = count - 1; i > 0; i--) {
			if (!fds[i].revents)
				continue;
			modbus_set_socket(modbus, fds[i].fd);
			if (!serve(modbus)) {
				close(fds[i].fd);
				fds[i] = fds[--count];
			}
		}
		if (fds[0].revents && count <= MASTERS) {
			int fd = modbus_tcp_accept(modbus, &listener);

			if (fd >= 0)
				fds[count++] =
				    (struct pollfd){.fd = fd, .events = POLLIN};
		}
	}
}

static int
serve_rtu(const char *tty, int unit)
{
	modbus_t *modbus = modbus_new_rtu(tty, BAUD, 'N', 8, 2);

	if (!modbus || modbus_set_slave(modbus, unit) || modbus_connect(modbus))
		return fail(tty);
	for (;;)
		if (!serve(modbus))
			modbus_flush(modbus); /* a damaged request */
}

int
main(int count, char **words)
{
	int first = count == 4 ? read_cells(words[3]) : 0;

	if (!first) {
		fputs("libmodbus_server: tcp PORT CELLS, or rtu TTY CELLS\n", stderr);
		return 2;
	}
	return strcmp(words[1], "tcp") == 0 ? serve_tcp(words[2])
	                                    : serve_rtu(words[2], first);
}
