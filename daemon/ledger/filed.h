/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What goes on file of a number and of a time: as much of it as every store gives back.
 *
 * A store that keeps decimal numbers gives a double of 17 digits back with fewer; one of
 * ten digits, nine of them behind the point at most, comes back from every store bit for
 * bit.  A channel's flows, in m3/s, are small throughout (a litre a minute is 0.0000167):
 * nine decimals would leave four digits of them; with fifteen they come back all the same,
 * for a store that keeps decimal numbers keeps as many as the largest of a series allows.
 * So the ledger and whatever was delivered from it hold the same numbers, and a report
 * from either is the same to the last digit.  No sensor and no feature has more than seven
 * digits to tell.
 *
 * Filed by an earlier version, numbers have more digits: they are read rounded, so a shot
 * is made again without a difference.  Pure; rounding twice changes nothing.
 */
#ifndef DAEMON_LEDGER_FILED_H
#define DAEMON_LEDGER_FILED_H

#include "daemon/base/clock.h"

#include <stdbool.h>

/* The double nearest to the decimal number of 10 significant digits and at most 9 decimals
 * that is nearest to `value`, ties to even, and never -0.  What is not finite stays. */
double filed_number(double value);

/* The same with at most 15 decimals: for the numbers of a channel that measures a flow. */
double filed_flow(double value);

/* Whether both come out as the same; NAN and NAN do. */
bool filed_same(double a, double b);
bool filed_same_flow(double a, double b);

/* The last whole microsecond: a time is not before a whole one after it than it was
 * before it. */
struct wall filed_time(struct wall at);

#endif
