/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For tests of commands that read devices themselves: a server of the test, and a set-up
 * of a device on it.  Each test begins with an honest server. */
#ifndef TESTS_UNIT_CLI_COMMAND_SERVED_H
#define TESTS_UNIT_CLI_COMMAND_SERVED_H

#include "tests/unit/cli/command/plant.h"

#include "tests/unit/daemon/fieldbus/server.h"

static struct server server;
static struct plant plant;
static char address[32], config[300];

/* A carousel on the server, and a device that nobody has switched on. */
static const char set_up[] =
    "[site]\nname = works\ntimezone = Europe/Berlin\n\n"
    "[ledger]\npath = ledger.db\n\n"
    "[line one]\nmachine = rotary\nstations = load, oven, form\nheat_timer_s = 200\n\n"
    "[device plc]\nline = one\naddress = %s\ntimeout_ms = 200\n"
    "holes = holding 14-19\n\n"
    "[channel plc.rotating]\nrole = rotating\ntable = discrete\naddress = 0\n"
    "type = bit\n\n"
    "[channel plc.form_closed]\nrole = form_closed\ntable = discrete\naddress = 1\n"
    "type = bit\n\n"
    "[channel plc.surface]\nrole = surface_top\ncount = 2\ntable = input\naddress = 0\n"
    "type = int16\nscale = 0.1\nunit = C\n%s\n"
    "[channel plc.count]\nrole = cycle_count\ntable = holding\naddress = 30\n"
    "type = uint32\nword_order = cdab\n\n"
    "%s";
static const char dead_device[] =
    "[device meter]\nline = one\naddress = 127.0.0.1:1\ntimeout_ms = 200\n\n"
    "[channel meter.hall]\nrole = ambient\ntable = input\naddress = 0\ntype = int16\n"
    "scale = 0.1\nunit = C\n";

static inline void
write_set_up(const char *surface, const char *more)
{
	FILE *file = fopen(config, "w");

	plant_need(file != NULL, "the set-up");
	fprintf(file, set_up, address, surface, more);
	fclose(file);
}

static inline int
open_server(void **state)
{
	const char *temporary = getenv("TMPDIR");

	(void)state;
	unsetenv("COLUMNS");
	server_start(&server);
	snprintf(address, sizeof address, "127.0.0.1:%d", server.port);
	snprintf(config, sizeof config, "%s/evensoak-registers-XXXXXX",
	    temporary ? temporary : "/tmp");
	int fd = mkstemp(config);
	plant_need(fd >= 0, "a file");
	close(fd);
	write_set_up("", "");
	return 0;
}

static inline int
close_server(void **state)
{
	(void)state;
	server_stop(&server);
	unlink(config);
	free(plant.out);
	free(plant.err);
	return 0;
}

static inline int
mend_server(void **state)
{
	(void)state;
	server.hole_first = server.hole_last = server.silent_unit = -1;
	server_misbehave(&server, MANNER_HONEST, 0);
	server.refusing_unit = -1;
	server.requests = 0;
	return 0;
}

#define assert_exit(wanted)                                                           \
	do {                                                                          \
		if (plant.code != (wanted))                                           \
			fail_msg("exit %d:\n%s%s", plant.code, plant.out, plant.err); \
	} while (0)

#endif
