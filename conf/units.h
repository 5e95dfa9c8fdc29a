/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The unit of a channel as a configuration writes it, and what to write for units that
 * there are not.  Constant data, pure functions; any thread; only within conf/.
 */
#ifndef CONF_UNITS_H
#define CONF_UNITS_H

#include "daemon/base/unit.h"

struct error;

/* Reads it, or returns ERROR_INVALID with a sentence that says what to write.  A unit is
 * never guessed from a like one: "mbar" is near to "bar", and a thousandth of it. */
int units_read(const char *text, enum unit *unit, struct error *error);

#endif
