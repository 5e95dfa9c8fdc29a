/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * An end of waiting, in the system's time whatever the rate of the clock.
 * Any thread.
 */
#ifndef DAEMON_FIELDBUS_LIMIT_H
#define DAEMON_FIELDBUS_LIMIT_H

#include "daemon/base/clock.h"

#include <stdbool.h>

/* Zero-filled it is over. */
struct limit {
	struct mono start;
	int64_t ns;
};

struct limit limit_from_now(double seconds);

/* 0 when the time is over. */
int64_t limit_left_ns(const struct limit *limit);

/* The same rounded up: 0 only when the time is over. */
int limit_left_ms(const struct limit *limit);

bool limit_is_over(const struct limit *limit);

/* Sleeps until the time is over. */
void limit_wait(const struct limit *limit);

/* Rounded to the nearest, for people. */
int limit_to_ms(double seconds);

#endif
