/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What several sensors of the same thing show over a window, as one course: the mean of
 * those that were good in all of it.
 *
 * A sensor counts for the whole window or not at all, so that none puts a step into the
 * mean where it comes or goes.  The one with the most readings gives the instants; of each
 * other the difference to it is taken at its own readings, bridged over its holes and level
 * beyond its first and last, and the mean of these differences is added.
 *
 * The course is thinned to one point a bucket, the mean of readings and of their times:
 * that neither delays nor bends a straight line.  Pure.
 */
#ifndef DAEMON_SHOT_COURSE_H
#define DAEMON_SHOT_COURSE_H

#include "conf/feature.h"
#include "daemon/shot/history.h"
#include "daemon/shot/window.h"

#include <stddef.h>

enum { COURSE_SENSORS = FEATURE_SURFACES_MAX };

struct course_source {
	const struct history *history;
	const uint32_t *channels; /* COURSE_SENSORS at most */
	size_t count;
	struct window window;
	double coverage_min;
	/* Its readings may have no hole of over 5 s (2.5 polls where that is more) in its
	 * last 10 s. */
	bool to_the_end;
};

/* Of `count` points, ascending; seconds after an origin of the caller's. */
struct course {
	size_t count;
	size_t sensors;    /* that it is the mean of */
	double *s, *value; /* lent: the caller's room */
};

/*
 * Fills `course`, which has room for the window's length over `bucket_s` and 2 points more.
 * The last point is at `end`: a straight line through the last 5 s (4.5 polls where that
 * is more) taken there.  Returns why there is none, the reason of the last sensor that was
 * not good enough.
 */
enum absent course_make(const struct course_source *source, struct mono origin,
    struct mono end, double bucket_s, struct course *course);

#endif
