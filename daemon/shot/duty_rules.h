/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether the bits of a line can be those of a machine of its kind, and if not, which one
 * is inverted or which two are swapped.
 *
 * A machine obeys rules: its platens are open while the frames move, no sheet has sagged
 * as it comes in ...  (common practice, no source).  Where a line breaks some, every way of
 * turning one bit round or exchanging two is tried; the one with which the fewest are
 * broken is what looks wrong.  Pure.
 */
#ifndef DAEMON_SHOT_DUTY_RULES_H
#define DAEMON_SHOT_DUTY_RULES_H

#include "conf/settings.h"
#include "daemon/shot/duty_log.h"

enum { DUTY_LEAST = 6 }; /* before so many cycles nothing is said */

struct duty_wiring {
	enum machine machine;
	int side_count, bit_count;
	size_t counted;     /* cycles that a counter tells of; 0 where bits do */
	double sag_least_s; /* no sheet sags sooner in the oven that has the eye */
	struct {
		enum role role;
		int side; /* -1: common */
	} bits[DUTY_BITS];
};

enum duty_verdict {
	DUTY_FINE, /* or too few cycles seen */
	DUTY_INVERTED,
	DUTY_SWAPPED,
	DUTY_CONSTANT, /* never changes, and should */
	DUTY_ODD,      /* breaks a rule, nobody knows why */
};

struct duty_finding {
	enum duty_verdict verdict;
	int other;       /* swapped with this bit; INVERTED: or that; -1: none */
	const char *why; /* the rule that is broken, in words; NULL when none is */
};

/* One finding a bit. */
void duty_judge(const struct duty_wiring *wiring, const struct duty_log *log,
    struct duty_finding findings[static DUTY_BITS]);

#endif
