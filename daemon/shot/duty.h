/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How much of the time each status bit is on, over the last cycles: what shows a bit that
 * is inverted, swapped with another, stuck, or mapped to nothing.
 *
 * A cycle is from one move of the sheets to the next (an index, or a sheet of one side
 * into the oven); the shares are of time, between good polls.  Pure; one thread.
 */
#ifndef DAEMON_SHOT_DUTY_H
#define DAEMON_SHOT_DUTY_H

#include "conf/settings.h"
#include "daemon/base/clock.h"

struct duty;
struct scan;

enum { DUTY_CYCLES = 10, DUTY_TEXT = 160 };

/* One bit of the line. */
struct duty_bit {
	uint32_t channel;
	bool known, level; /* now */
	double on;      /* ratio of the time over the last cycles; NAN: no poll yet */
	double changes; /* of level a cycle, mean; NAN before the first whole cycle */
	/* What looks wrong and what to try, one sentence; "" when it looks right or when
	 * there are too few cycles to tell. */
	char remark[DUTY_TEXT];
};

/* `settings` must outlive it.  NULL when memory is short. */
struct duty *duty_new(const struct settings *settings, uint32_t line);
void duty_free(struct duty *duty);

void duty_scan(struct duty *duty, const struct scan *scan);

/* Whole cycles seen, DUTY_CYCLES at most. */
int duty_cycles(const struct duty *duty);

/* The end of the last of them; ns 0 while there is none. */
struct mono duty_until(const struct duty *duty);

/* Every bit of the line, in the order of the settings; the remarks look at all bits
 * together.  Returns how many there are; at most `room` are written. */
size_t duty_bits(const struct duty *duty, struct duty_bit *bits, size_t room);

#endif
