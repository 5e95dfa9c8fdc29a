/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The course of one shot in some 20 rows, from its trace: what the sheet, the oven that it
 * is in and the tool were like at each time.  Pure; any thread.
 */
#ifndef CLI_COMMAND_COURSE_H
#define CLI_COMMAND_COURSE_H

#include "cli/command/kept.h"

struct error;

/* Means over the sensors that have a good reading then; NAN where none has.  SI. */
struct course_row {
	double after_s;           /* after the zero */
	double top_c, bottom_c;   /* surfaces, of the oven it is in */
	double output;            /* ratio, all zones of that oven */
	double tool_c, spread_dc; /* spread: only with every sensor of the tool */
	double rise_dc;           /* of the water, over the circuits */
};

enum { COURSE_ROWS = 30 };
struct course {
	const char *zero; /* "heat start", or what else is known of it */
	struct mono zero_at;
	double step_s;
	struct course_row rows[COURSE_ROWS];
	size_t count;
};

/* The instant from which a trace's times are told: the start of the heat; where nobody saw
 * that, of the forming, or the end of the record.  Sets `*name`. */
struct mono course_zero(const struct sheet *sheet, const char **name);

/* `line` and `side` are those of kept->made.  0, ERROR_MEMORY, or what the trace says. */
int course_read(struct course *course, const struct kept *kept, uint32_t line, int side,
    struct error *error);

#endif
