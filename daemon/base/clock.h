/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The only place that asks the system what time it is.
 *
 * Two kinds of time that must never be mixed: `mono` for durations (it never
 * steps) and `wall` for labels (UTC nanoseconds since 1970).  For demos and
 * tests the clock may run at a rate: then both kinds advance `rate` times as
 * fast as the system's.  Set the rate before any other thread starts; reading
 * is safe from any thread.
 */
#ifndef DAEMON_BASE_CLOCK_H
#define DAEMON_BASE_CLOCK_H

#include <stdint.h>

struct error;

struct mono {
	int64_t ns;
};

struct wall {
	int64_t ns; /* UTC since 1970; 0 means unknown */
};

#define CLOCK_SECOND_NS INT64_C(1000000000)

/*
 * Lets the clock run `rate` times as fast (0.1 to 10000) with the wall clock
 * showing `start` at the system's monotonic time `origin_ns`.  Two programs
 * given the same three values agree on the time.  origin_ns 0: now.
 * start.ns 0: the true time at the origin.  ERROR_INVALID when one is out of range.
 */
int clock_run_at(
    double rate, struct wall start, int64_t origin_ns, struct error *error);

/* The system's monotonic time that stands for the origin; 0 when not run at a rate. */
int64_t clock_origin_ns(void);
double clock_rate(void);

struct mono clock_mono(void);
struct wall clock_wall(void);

/* Both at one instant. */
void clock_both(struct mono *mono, struct wall *wall);

/*
 * Sleeps until `deadline`, or until `wake_fd` (-1: none) becomes readable.
 * Returns 1 when woken by the descriptor, 0 when the time has come; the descriptor
 * goes first, so that a loop that is always late is still told to stop.  EINTR is
 * slept through.
 */
int clock_sleep_until(struct mono deadline, int wake_fd);

/* How long a duration of the clock lasts in the system's time, for time-outs
 * given to libraries.  Never below 0. */
int64_t clock_system_ns(int64_t clock_ns);

#endif
