/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the bits of a machine of a kind obey: its platens are open while the frames move,
 * no sheet has sagged as it comes in ...  (common practice, no source).  Pure.
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

/* A rule that is not obeyed. */
struct duty_breach {
	int a, b;        /* the bits that it is about; b is the one to blame */
	bool constant;   /* b never changes, and should */
	const char *why; /* in words */
};

enum { DUTY_BREACHES = 64 };

struct duty_breaches {
	size_t count;
	uint32_t dead; /* bits that never change: they break that rule alone */
	struct duty_breach list[DUTY_BREACHES];
};

/* Which sides work: one that stands says nothing.  None before there is enough to see. */
void duty_find_working(const struct duty_wiring *wiring, const struct duty_log *log,
    bool sides[static SETTINGS_SIDES]);

/* Holds the line against all rules; `sides` are those that work. */
void duty_hold(const struct duty_wiring *wiring, const struct duty_log *log,
    const bool sides[static SETTINGS_SIDES], struct duty_breaches *breaches);

#endif
