/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cli/stats/sort.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

static int
compare(const void *left, const void *right)
{
	double a = *(const double *)left, b = *(const double *)right;

	return (a > b) - (a < b);
}

/* Of all magnitudes and both signs, many alike, some infinite. */
static double
draw(unsigned short *seed)
{
	switch (nrand48(seed) % 8) {
	case 0:
		return (double)(nrand48(seed) % 7) - 3;
	case 1:
		return nrand48(seed) % 2 ? INFINITY : -INFINITY;
	case 2:
		return 1e9 + erand48(seed);
	case 3:
		return 5e-324 * (double)(nrand48(seed) % 3);
	default:
		return (erand48(seed) - 0.5) * pow(10, 600 * (erand48(seed) - 0.5));
	}
}

static void
values_are_sorted_as_by_a_plain_sort(void **state)
{
	static const size_t counts[] = {0, 1, 2, 511, 512, 513, 20000};
	unsigned short seed[3] = {1, 2, (unsigned short)seed_take(11)};

	(void)state;
	for (size_t c = 0; c < sizeof counts / sizeof counts[0]; c++) {
		size_t n = counts[c];
		double *values = calloc(n + 1, sizeof *values);
		double *wanted = calloc(n + 1, sizeof *wanted);
		assert_non_null(values);
		assert_non_null(wanted);
		for (size_t i = 0; i < n; i++)
			wanted[i] = values[i] = draw(seed);
		sort_values(values, n);
		qsort(wanted, n, sizeof *wanted, compare);
		for (size_t i = 0; i < n; i++)
			assert_true(compare(&values[i], &wanted[i]) == 0);
		free(values);
		free(wanted);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(values_are_sorted_as_by_a_plain_sort),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
