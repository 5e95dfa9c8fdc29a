/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The command line of linesim.
 */
#ifndef CONTRIB_LINESIM_OPTIONS_H
#define CONTRIB_LINESIM_OPTIONS_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/base/clock.h"

struct machine_kind;

struct options {
	const struct machine_kind *machine;
	uint64_t seed;
	double clock_rate;
	struct wall clock_start; /* ns 0: the true time */
	double duration_s;       /* of the line's time; 0: no end */
	int64_t sheets;          /* frames that have gone round; 0: no end */
	uint16_t port;           /* of the controller, the others next; 0: any free */
	const char *ready, *truth, *script, *asked; /* paths, or NULL */
	bool cold_start;
	double serve_for_s; /* of the system's time, after the end */
	bool help;
};

/* False when the use is wrong; a line on stderr says why. */
bool options_read(struct options *options, int count, char **words);

void options_help(void);

#endif
