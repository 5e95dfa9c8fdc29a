/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values of one quantity in the order of time, as all of this folder takes them.  Pure; any
 * thread. */
#ifndef CLI_STATS_SERIES_H
#define CLI_STATS_SERIES_H

#include <stdbool.h>
#include <stddef.h>

/*
 * A series in the order of time.  NAN is a missing value.  breaks[i] says that
 * value i does not follow directly on value i - 1 (something between them was left
 * out); NULL: no breaks.  Two values are neighbours when they stand side by side,
 * both are there and no break lies between them.
 */
struct series {
	const double *values;
	const bool *breaks;
	size_t count;
};

bool series_neighbours(const struct series *series, size_t i); /* i - 1 and i; i >= 1 */

#endif
