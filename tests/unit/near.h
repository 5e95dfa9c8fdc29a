/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * assert_near(got, wanted, tolerance): doubles that agree within an absolute tolerance.
 * cmocka's own assert_float_equal compares floats.  Include after cmocka.h.
 */
#ifndef TESTS_UNIT_NEAR_H
#define TESTS_UNIT_NEAR_H

#include <math.h>

#define assert_near(got, wanted, tolerance)                                            \
	do {                                                                           \
		double near_got = (got), near_wanted = (wanted);                       \
		if (!(fabs(near_got - near_wanted) <= (tolerance)))                    \
			fail_msg(                                                      \
			    "%s is %.17g, wanted %.17g", #got, near_got, near_wanted); \
	} while (0)

#endif
