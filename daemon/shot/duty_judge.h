/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which bit of a line is inverted, which two are swapped.
 *
 * Where a line breaks rules of its kind, every way of turning one bit round or exchanging
 * two is tried; the one with which the fewest are broken is what looks wrong.  Pure.
 */
#ifndef DAEMON_SHOT_DUTY_JUDGE_H
#define DAEMON_SHOT_DUTY_JUDGE_H

#include "daemon/shot/duty_log.h"

struct duty_wiring;

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
