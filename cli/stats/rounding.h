/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Values that were rounded before anybody saw them.  A test of their distribution takes the
 * steps for a finding: of half-normal series of 160 values rounded to 0.2 sigma it refuses two in
 * three.  So equal values are spread over what was rounded to them.  Pure; any thread.
 */
#ifndef CLI_STATS_ROUNDING_H
#define CLI_STATS_ROUNDING_H

#include <stdbool.h>
#include <stddef.h>

/* The smallest step between two of the values that are not the same but for the computing (0.1 + 0.2
 * and 0.3); NAN: there is none.  `sorted` ascending. */
double rounding_least(const double *sorted, size_t n);

/* The step that all values are whole multiples of, counted from the smallest; 0: there is none,
 * or no two values are equal.  `sorted` ascending, finite. */
double rounding_step(const double *sorted, size_t n);

/*
 * Equal values x are spread evenly over x - step/2 ... x + step/2 (with `zero_bounded`, zeros over
 * 0 ... step/2), into `spread`, which has room for n; what stands alone stays.  step 0: a copy.
 */
void rounding_spread(
    const double *sorted, size_t n, double step, bool zero_bounded, double *spread);

#endif
