/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The settings of what is asked: buses, devices, and their channels in groups.  Part of
 * conf/settings.h, which is included for it.
 */
#ifndef CONF_SETTINGS_BUS_H
#define CONF_SETTINGS_BUS_H

#include "conf/settings_sizes.h"

#include <stdbool.h>
#include <stdint.h>

enum register_table {   /* and the function code that reads it */
	TABLE_COIL,     /* FC 1 */
	TABLE_DISCRETE, /* FC 2 */
	TABLE_HOLDING,  /* FC 3 */
	TABLE_INPUT,    /* FC 4 */
};

struct hole {
	enum register_table table;
	uint16_t first, last;
};

enum bus_kind {
	BUS_TCP,    /* a socket: a device, or a gateway with several behind it */
	BUS_SERIAL, /* Modbus RTU */
};

enum parity {
	PARITY_NONE,
	PARITY_EVEN,
	PARITY_ODD,
};

/* What a poller has to itself: one request at a time. */
struct bus_settings {
	enum bus_kind kind;
	char name[SETTINGS_NAME * 2 + 8]; /* for people: "10.0.0.5:502", "ovens" */
	/* of TCP */
	char host[SETTINGS_NAME * 2]; /* name or address */
	int port;                     /* 1 to 65535 */
	/* of a serial line; eight data bits */
	char path[SETTINGS_PATH]; /* "/dev/ttyUSB0" */
	int baud;
	enum parity parity;
	int stop_bits; /* 1 or 2 */
	bool rs485;    /* the port's driver is to switch the direction */
};

/* Channels of a device that are read together, at one period: a scan is of one group. */
struct group_settings {
	uint32_t first, count; /* within the device's channels */
	double period_s;
	bool at_heat; /* and as a heat begins on the line */
};

struct device_settings {
	char name[SETTINGS_NAME];
	uint32_t line;
	uint32_t bus;      /* in settings->buses; several devices may share one */
	int unit_id;       /* 0 to 255; on a serial line 1 to 247 */
	double period_s;   /* of channels that tell no other */
	double timeout_s;  /* a request's whole time */
	double gap_s;      /* pause between an answer and the next request on its bus */
	int max_registers; /* a request: 1 to 125 */
	int hole_count;
	struct hole holes[SETTINGS_HOLES];
	uint32_t first_channel, channel_count; /* in settings->channels */
	int group_count; /* of a device with channels 1 at least, the fastest first */
	struct group_settings groups[SETTINGS_GROUPS];
};

#endif
