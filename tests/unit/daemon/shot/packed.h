/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A small plant, scans of it, and a pack of them as the first release wrote it, for the
 * tests of daemon/shot/pack.
 */
#ifndef TESTS_UNIT_DAEMON_SHOT_PACKED_H
#define TESTS_UNIT_DAEMON_SHOT_PACKED_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/raw.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/shot/pack.h"

static const char plant[] =
    "[site]\nname = t\ntimezone = UTC\ntemperature_unit = C\n"
    "[ledger]\npath = /tmp/none.db\n"
    "[line r]\nmachine = rotary\nstations = load, oven, form\nheat_min_s = 30\n"
    "heat_timer_s = 230\n"
    "[device plc]\nline = r\naddress = 127.0.0.1:1502\nunit_id = 1\nperiod_ms = 500\n"
    "[channel plc.rotating]\nrole = rotating\ntable = discrete\naddress = 0\n"
    "type = bit\n"
    "[channel plc.form]\nrole = form_closed\ntable = holding\naddress = 9\n"
    "type = bit\nbit = 3\n"
    "[device io]\nline = r\naddress = 127.0.0.1:1503\nunit_id = 1\nperiod_ms = 1000\n"
    "[channel io.top]\nrole = surface_top\ncount = 2\ntable = input\naddress = 0\n"
    "type = int16\nscale = 0.1\nunit = C\nsentinels = 0x7fff\n"
    "[channel io.tool]\nrole = tool\ntable = input\naddress = 20\n"
    "type = float32\nword_order = abcd\nunit = C\n"
    "[channel io.meter]\nrole = energy_meter\ntable = input\naddress = 30\n"
    "type = uint32\nword_order = cdab\nscale = 0.1\nunit = kWh\n";

enum { PLC, IO, DEVICES, TOP_1 = 2, TOP_2, TOOL, METER };
enum { SCANS_MAX = 400 };

static inline struct settings *
parse(const char *text)
{
	static struct problems problems;
	struct settings *settings = settings_parse(text, "pack.ini", &problems);

	if (settings == NULL)
		fail_msg("%s", problems.list[0].text);
	return settings;
}

/* The plant with a part of its text replaced wherever it stands. */
static inline struct settings *
corrected(const char *from, const char *to)
{
	char text[2 * sizeof(plant)];
	size_t length = 0;
	const char *rest = plant, *at;

	assert_non_null(strstr(plant, from));
	while ((at = strstr(rest, from)) != NULL) {
		length += (size_t)snprintf(text + length, sizeof(text) - length,
		    "%.*s%s", (int)(at - rest), rest, to);
		rest = at + strlen(from);
	}
	snprintf(text + length, sizeof(text) - length, "%s", rest);
	return parse(text);
}

/* --- scans --------------------------------------------------------------------------- */

struct scans {
	const struct settings *made;
	size_t count;
	struct scan *list[SCANS_MAX];
};

static inline struct scan *
add_part(struct scans *scans, uint32_t device, uint32_t first, uint32_t count)
{
	struct scan *scan = calloc(1, scan_bytes(count));

	scan->device = device;
	scan->first = first;
	scan->count = count;
	for (uint32_t i = 0; i < count; i++)
		scan->readings[i] = (struct reading){NAN, QUALITY_STALE, 0};
	assert_true(scans->count < SCANS_MAX);
	scans->list[scans->count++] = scan;
	return scan;
}

/* Of all channels of a device. */
static inline struct scan *
add(struct scans *scans, uint32_t device)
{
	return add_part(scans, device, 0, scans->made->devices[device].channel_count);
}

static inline struct scan *
add_group(struct scans *scans, uint32_t device, int group)
{
	const struct group_settings *of = &scans->made->devices[device].groups[group];

	return add_part(scans, device, of->first, of->count);
}

/* `channel` counts from the scan's first. */
static inline void
read_raw(const struct scans *scans, struct scan *scan, uint32_t channel, uint32_t raw)
{
	uint32_t first = scans->made->devices[scan->device].first_channel + scan->first;

	scan->readings[channel] =
	    raw_reading(&scans->made->channels[first + channel], raw);
}

static inline void
freeze(struct scan *scan, uint32_t channel)
{
	scan->readings[channel].quality = QUALITY_FROZEN;
	scan->readings[channel].value = NAN;
}

static inline void
scans_free(struct scans *scans)
{
	for (size_t i = 0; i < scans->count; i++)
		free(scans->list[i]);
	scans->count = 0;
}

static inline unsigned char *
pack(const struct scans *scans, size_t *byte_count)
{
	unsigned char *bytes = pack_scans(
	    (const struct scan *const *)scans->list, scans->count, byte_count);

	assert_non_null(bytes);
	return bytes;
}

/* Two scans of the controller, one of the rest. */
static inline void
small(struct scans *scans)
{
	struct scan *scan = add(scans, PLC);

	scan->sent.ns = 1000;
	scan->at.ns = 1200;
	scan->wall.ns = 1700000000000001200;
	read_raw(scans, scan, 0, 1);
	read_raw(scans, scan, 1, 8);
	scan = add(scans, IO);
	scan->sent.ns = 1300;
	scan->at.ns = 1500;
	scan->wall.ns = 1700000000000001500;
	read_raw(scans, scan, 0, 1400);
	read_raw(scans, scan, 1, 0x7fff);
	read_raw(scans, scan, 2, 0x42c80000);
	scan->readings[3] = (struct reading){NAN, QUALITY_COMM_FAULT, 0};
	scan = add(scans, PLC);
	scan->sent.ns = 2000;
	scan->at.ns = 2300;
	scan->wall.ns = 1700000000000002300;
	read_raw(scans, scan, 0, 0);
}

/* A pack of `small` as the first release wrote it: it must be read for ever. */
static const unsigned char golden[] = {0x01, 0x70, 0x78, 0x9c, 0x63, 0x66, 0x62, 0x60,
    0x62, 0x64, 0x61, 0x66, 0x00, 0x02, 0x46, 0x06, 0x16, 0x20, 0xf9, 0x40, 0xe8, 0x38,
    0x23, 0x88, 0x9e, 0xc0, 0x7c, 0x82, 0x91, 0x0b, 0x48, 0x37, 0x34, 0x5c, 0x78, 0x74,
    0x6c, 0xff, 0xb9, 0xe9, 0xfa, 0x0c, 0x20, 0x45, 0x6c, 0x4c, 0x8c, 0x20, 0x8a, 0x59,
    0x80, 0x85, 0x09, 0x48, 0xed, 0x10, 0x67, 0x02, 0xab, 0xe4, 0x44, 0x56, 0x07, 0x96,
    0xff, 0x20, 0x0a, 0x32, 0x83, 0xf9, 0xdf, 0x7f, 0x66, 0x36, 0x10, 0xdd, 0xd0, 0x70,
    0x60, 0x0d, 0x07, 0x23, 0x90, 0xc5, 0x0a, 0x00, 0x44, 0xfe, 0x15, 0xf9};

/* Channels of one device read apart, and one of them frozen. */
static inline void
small_2(struct scans *scans)
{
	struct scan *scan = add_part(scans, IO, 0, 2);

	scan->sent.ns = 1300;
	scan->at.ns = 1500;
	scan->wall.ns = 1700000000000001500;
	read_raw(scans, scan, 0, 1400);
	read_raw(scans, scan, 1, 0x7fff);
	scan = add_part(scans, PLC, 0, 2);
	scan->sent.ns = 1000;
	scan->at.ns = 1600;
	scan->wall.ns = 1700000000000001600;
	read_raw(scans, scan, 0, 1);
	scan->readings[1] = (struct reading){NAN, QUALITY_COMM_FAULT, 0};
	scan = add_part(scans, IO, 2, 2);
	scan->sent.ns = 2400;
	scan->at.ns = 2450;
	scan->wall.ns = 1700000000000002450;
	read_raw(scans, scan, 0, 0x42c80000);
	freeze(scan, 0);
	read_raw(scans, scan, 1, 77);
}

/* A pack of `small_2` in the second form. */
static const unsigned char golden_2[] = {0x02, 0x87, 0x01, 0x78, 0x9c, 0x63, 0x66, 0x66,
    0x64, 0x60, 0x62, 0x60, 0x60, 0x62, 0x64, 0x62, 0x62, 0x66, 0x00, 0x02, 0x20, 0x0d,
    0x24, 0x77, 0x88, 0x83, 0xc8, 0x09, 0xcc, 0x9c, 0x40, 0xb2, 0xa1, 0xe1, 0xc2, 0xa3,
    0x63, 0xfb, 0xcf, 0x4d, 0xd7, 0x07, 0xc9, 0xb3, 0x7c, 0x10, 0x65, 0x01, 0x51, 0xff,
    0xfe, 0x33, 0x83, 0x54, 0x34, 0x48, 0x82, 0xc8, 0x0d, 0x9c, 0x28, 0xea, 0x40, 0x42,
    0x2c, 0x4c, 0x8c, 0x40, 0x92, 0x0d, 0xc4, 0x5c, 0xa2, 0x06, 0x62, 0xa6, 0xa0, 0x28,
    0x61, 0x03, 0x72, 0xd8, 0x1b, 0x1a, 0x0e, 0xac, 0xe1, 0x00, 0x1b, 0x3a, 0x8b, 0x11,
    0x00, 0x4d, 0xce, 0x1b, 0xc6};

static inline int
drop(void *arg, const struct scan *scan)
{
	(void)arg;
	(void)scan;
	return 0;
}

#endif
