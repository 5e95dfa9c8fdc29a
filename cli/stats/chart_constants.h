/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Constants of control charts for subgroups of n normal values (ISO 7870-2 and the
 * NIST/SEMATECH e-Handbook 6.3.2 name them).  Pure; any thread.
 */
#ifndef CLI_STATS_CHART_CONSTANTS_H
#define CLI_STATS_CHART_CONSTANTS_H

#include <stddef.h>

/* d2 of two values, 2 / sqrt(pi): a mean moving range divided by it is a sigma. */
#define CHART_D2_OF_2 1.1283791670955126

enum { CHART_SUBGROUP_LEAST = 2, CHART_SUBGROUP_MOST = 25 };

struct chart_constants {
	double d2, d3, c4, A2, A3, B3, B4, D3, D4, E2;
};

/* CHART_SUBGROUP_LEAST <= n <= CHART_SUBGROUP_MOST (assert). */
struct chart_constants chart_constants(size_t n);

/* Mean of the sample deviation of n >= 2 normal values of sigma 1; any n. */
double chart_c4(size_t n);

#endif
