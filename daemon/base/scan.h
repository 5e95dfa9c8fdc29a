/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A scan: the values of one group of a device's channels, read at one time.
 *
 * Values are SI (temperatures C).  A value is good or it is absent with a reason:
 * never 0 in its place, never a sentinel.  A scan is written by the poller, then
 * only read; whoever holds it is its owner.
 */
#ifndef DAEMON_BASE_SCAN_H
#define DAEMON_BASE_SCAN_H

#include "daemon/base/clock.h"

#include <stddef.h>
#include <stdint.h>

enum quality {
	QUALITY_GOOD,
	QUALITY_STALE,        /* not read in this scan */
	QUALITY_SENSOR_FAULT, /* a sentinel: the sensor says that it is broken */
	QUALITY_COMM_FAULT,   /* the device did not answer, or with an error */
	QUALITY_OUT_OF_RANGE, /* a number that cannot be */
	QUALITY_FROZEN,       /* it has not moved while others did */
};

/* "good", "stale", "sensor_fault", "comm_fault", "out_of_range". */
const char *quality_text(enum quality quality);

struct reading {
	double value; /* NAN unless good */
	enum quality quality;
	uint32_t
	    raw; /* the registers' bits in the order of the value; 0 when not read */
};

struct scan {
	uint32_t device;  /* index in settings->devices */
	uint32_t first;   /* of its channels: those of one group are read together */
	struct mono sent; /* the first request went out: nothing in it is older */
	struct mono at;   /* time of the last reply; of giving up when there was none */
	struct wall wall; /* the same instant */
	uint32_t count;   /* so many channels, in the order of the settings */
	struct reading readings[];
};

size_t scan_bytes(uint32_t count);

#endif
