/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Repeatable normal values: SplitMix64 (G. L. Steele, D. Lea and C. H. Flood, OOPSLA 2014)
 * and the transform of G. E. P. Box and M. E. Muller, 1958.
 */
#ifndef TESTS_UNIT_CLI_STATS_NORMAL_H
#define TESTS_UNIT_CLI_STATS_NORMAL_H

#include <math.h>
#include <stddef.h>
#include <stdint.h>

static inline double
normal_uniform(uint64_t *state)
{
	uint64_t z = (*state += UINT64_C(0x9e3779b97f4a7c15));

	z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
	return ((double)((z ^ (z >> 31)) >> 11) + 0.5) / 9007199254740992.0;
}

static inline double
normal_next(uint64_t *state)
{
	double radius = sqrt(-2 * log(normal_uniform(state)));

	return radius * cos(2 * M_PI * normal_uniform(state));
}

static inline void
normal_fill(uint64_t *state, double *values, size_t n)
{
	for (size_t i = 0; i < n; i++)
		values[i] = normal_next(state);
}

#endif
