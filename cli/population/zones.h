/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The mean outputs of a line's heater zones over some of its shots.  One thread. */
#ifndef CLI_POPULATION_ZONES_H
#define CLI_POPULATION_ZONES_H

#include "conf/settings.h"
#include "daemon/base/clock.h"

#include <stdint.h>

struct error;
struct ledger_read;

/* Of more shots that many are looked at, evenly over them. */
enum { ZONES_SHOTS = 400 };

struct zones {
	double *output; /* by channel of the settings, 0 ... 1; NAN: no shot has it */
	size_t shots;   /* that were looked at and have any */
};

struct zones_asked {
	const char *line;
	struct wall from, to;   /* in which the shots were filed; ns 0: open */
	const int64_t *numbers; /* of the shots, ascending */
	size_t count;
};

/* Channels are found by their names in the settings.  0, or the error; release in either
 * case. */
int zones_read(struct zones *zones, const struct settings *settings,
    struct ledger_read *ledger, const struct zones_asked *asked, struct error *error);
void zones_release(struct zones *zones);

#endif
