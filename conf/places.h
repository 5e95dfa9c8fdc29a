/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Where a channel belongs on its line: role, oven, side, position.  For one thread;
 * only within conf/.
 */
#ifndef CONF_PLACES_H
#define CONF_PLACES_H

#include <stdbool.h>

struct draft;
struct part;

/* Of one channel, whose part may be bad: sets its oven and side.  Notes a role that its
 * machine does not know, a station or side that is not there, or is missing. */
void places_check_channel(struct draft *draft, struct part *channel);

/*
 * After that of every channel: notes places of a line that are taken twice.  When it is
 * `whole`, every channel is known, so what is not there is missing: gaps in positions
 * and roles are noted, and the line's positions counted.  False when they are not.
 */
bool places_check_line(struct draft *draft, struct part *line, bool whole);

#endif
