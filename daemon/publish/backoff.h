/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How long to wait before trying again: twice as long each time, up to a maximum,
 * with jitter, so that many loggers do not come back to a store at one instant.
 * Seconds of the system's time.  Pure.
 */
#ifndef DAEMON_PUBLISH_BACKOFF_H
#define DAEMON_PUBLISH_BACKOFF_H

struct backoff {
	double first_s, longest_s;
	double next_s; /* 0: nothing has failed since the last success */
};

void backoff_init(struct backoff *backoff, double first_s, double longest_s);
void backoff_reset(struct backoff *backoff);

/*
 * The wait after one more failure, never less than `at_least_s` (what the other side
 * asked for, of which an hour is heeded).  `random` is 0 to 1: it takes away up to
 * half of what is our own choice.
 */
double backoff_next_s(struct backoff *backoff, double at_least_s, double random);

#endif
