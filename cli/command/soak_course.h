/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The temperatures through a sheet on their way, as they are computed. */
#ifndef CLI_COMMAND_SOAK_COURSE_H
#define CLI_COMMAND_SOAK_COURSE_H

#include "daemon/heat/soak.h"

#include <stdbool.h>
#include <stddef.h>

struct error;
struct page;

enum { COURSE_PROFILES = 1 << 20 }; /* at most */

struct soak_course {
	size_t count, room;
	double *s;
	double (*c)[SOAK_NODES]; /* from top to bottom */
	bool failed;             /* memory was short, or there are too many */
};

/* Every profile of the case from its start to its end; ERROR_INVALID as soak_compute,
 * ERROR_MEMORY.  soak_course_release either way. */
int soak_course_make(
    struct soak_course *course, const struct soak_case *soak, struct error *error);
void soak_course_release(struct soak_course *course);

/* The profile at a moment, between two that were computed on a straight line. */
void soak_course_at(
    const struct soak_course *course, double s, double c[static SOAK_NODES]);

/* Mean through the thickness. */
double soak_course_mean(const double c[static SOAK_NODES]);

/* For machines: a row a profile. */
void soak_course_put(const struct soak_course *course, struct page *page);

#endif
