/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How fast a tool sensor falls towards its water while nothing loads the tool: the time
 * constant of an exponential.  Pure.
 */
#ifndef DAEMON_SHOT_RECOVERY_H
#define DAEMON_SHOT_RECOVERY_H

#include "daemon/shot/history.h"
#include "daemon/shot/window.h"

/*
 * Least squares through the logarithm of sensor minus water at the sensor's readings, each
 * weighted with the square of that difference, so that near the water noise counts for
 * nothing; the water is a straight line through its readings, which averages theirs.  `open`: platens open between two sheets; its first RECOVERY_AFTER_S (the part
 * is still on the tool) and its last RECOVERY_BEFORE_S are left out.
 *
 * There is a number when the rest is at least RECOVERY_LEAST_S long with RECOVERY_READINGS
 * good ones, and the fall stands out: by RECOVERY_FALL_DC at least, and its slope by
 * RECOVERY_SIGMAS of its own standard errors.  Else not_applicable, or what the readings
 * say.  In seconds.  RECOVERY_SIGMAS is as small as
 * noise allows: with 4.5 about one shot in 2500 of noise alone has a number, see the test.
 * All these bounds: common practice, no source.
 */
#define RECOVERY_AFTER_S 5.0
#define RECOVERY_BEFORE_S 1.0
#define RECOVERY_LEAST_S 15.0
#define RECOVERY_FALL_DC 0.2
#define RECOVERY_SIGMAS 5.0
enum { RECOVERY_READINGS = 8 };

struct measure recovery_fit(const struct history *history, uint32_t sensor,
    uint32_t water, struct window open, double coverage_min);

#endif
