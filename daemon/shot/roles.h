/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which channel of a line plays which role for the sheets of one side: looked up once,
 * then by index.  Channels that no side is told for belong to every side.
 * Constant after roles_init; pure.
 */
#ifndef DAEMON_SHOT_ROLES_H
#define DAEMON_SHOT_ROLES_H

#include "conf/settings.h"

enum { ROLES_NONE = -1 };

/* What hangs on one oven; [0] top, [1] bottom; channels by position, [0] is position 1. */
struct oven_roles {
	int surface_count[2], zone_count[2];
	uint32_t *surface[2], *zone[2];
	int32_t air; /* of a convection oven, or ROLES_NONE */
};

struct roles {
	int32_t
	    bit[ROLE_RECIPE + 1]; /* the channel of a bit or word role, or ROLES_NONE */
	int32_t stack, meter, ambient; /* or ROLES_NONE */
	int oven_count;
	struct oven_roles ovens[SETTINGS_STATIONS];
	/* Channels by position; [0] is position 1. */
	int tool_count, circuit_count;
	uint32_t *tool;
	uint32_t *water_return; /* by circuit */
	int32_t *
	    water_supply; /* by circuit: its own, else the common one, else ROLES_NONE */
	int32_t *water_flow; /* by circuit, or ROLES_NONE */
	uint32_t *set_point; /* in the order of the settings */
	size_t set_point_count;
	uint32_t *all; /* every measure of this side, in the order of the settings */
	size_t all_count;
};

/* `side` is an index in the line's sides.  0, or ERROR_MEMORY. */
int roles_init(
    struct roles *roles, const struct settings *settings, uint32_t line, int side);
void roles_release(struct roles *roles);

/* An edge less certain than this counts as not seen: some polls of the bits that move the
 * sheets of this line. */
double roles_edge_limit_s(const struct settings *settings, const struct roles *roles);

/* Not heard of for longer than this, a bit is silent: some of its own polls, and never less
 * than the limit above. */
double roles_silence_s(
    const struct settings *settings, const struct roles *roles, enum role bit);

#endif
