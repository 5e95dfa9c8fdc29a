/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How the sheets of a line move: what each kind of machine has, needs and does not
 * know, as one table, and its words in a configuration.  Constant data, pure functions;
 * any thread.
 */
#ifndef CONF_MACHINE_H
#define CONF_MACHINE_H

#include "conf/settings.h"

#include <stdbool.h>

struct error;

/* Sets of roles have a bit each: MACHINE_ROLE(ROLE_TOOL). */
#define MACHINE_ROLE(role) (UINT32_C(1) << (role))

enum { MACHINE_NEEDS = 2 };

struct machine_traits {
	int ovens, unloads;   /* stations of that kind, at most */
	int sides;            /* at most */
	const char *stations; /* what a list of them looks like */
	const char *doubles;  /* what two load or form stations would be */
	uint32_t needs
	    [MACHINE_NEEDS]; /* a channel of one of these roles each, on every side */
	uint32_t foreign;    /* roles that mean nothing to it */
	uint32_t moves;   /* roles whose changes, in their order, are a sheet's way */
	uint32_t returns; /* roles of which one tells a sheet that is heated again */
};

const struct machine_traits *machine_get(enum machine machine);

/* What a machine has in place of a role that is foreign to it. */
enum role machine_role_instead(enum role role);

/* Whether each side of a machine with two must have its own. */
bool machine_role_is_sided(enum role role);

/* Each reads its setting whole, or returns ERROR_INVALID with a sentence that says what
 * to write and changes nothing.  What they mean together is not looked at. */
int machine_read(const char *text, enum machine *machine, struct error *error);
int machine_read_stations(
    const char *text, struct line_settings *line, struct error *error);
int machine_read_sides(
    const char *text, struct line_settings *line, struct error *error);

#endif
