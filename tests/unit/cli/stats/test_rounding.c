/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <gsl/gsl_sort.h>
#include <math.h>

#include "cli/stats/rounding.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static void
the_step_is_what_all_values_are_multiples_of(void **state)
{
	const double tenths[] = {0, 0.1, 0.1 + 0.2, 0.3, 0.4, 0.7};
	const double offset[] = {1e6 + 0.25, 1e6 + 0.5, 1e6 + 0.5, 1e6 + 1.5};
	/* Fahrenheit of whole degrees Celsius. */
	const double scaled[] = {68, 69.8, 69.8, 73.4};

	(void)state;
	assert_near(rounding_step(tenths, LENGTH(tenths)), 0.1, 1e-15);
	assert_near(rounding_step(offset, LENGTH(offset)), 0.25, 1e-9);
	assert_near(rounding_step(scaled, LENGTH(scaled)), 1.8, 1e-12);
}

static void
what_the_computing_makes_of_equal_values_is_no_step(void **state)
{
	const double tenths[] = {0, 0.1, 0.1 + 0.2, 0.3, 0.4, 0.7},
		     alike[] = {0.3, 0.1 + 0.2, 0.1 + 0.2},
		     far[] = {1e9, 1e9 + 1e-3, 1e9 + 1};

	(void)state;
	assert_near(rounding_least(tenths, LENGTH(tenths)), 0.1, 1e-15);
	assert_near(rounding_least(far, LENGTH(far)), 1e-3, 1e-6);
	assert_true(isnan(rounding_least(alike, LENGTH(alike))));
	assert_true(isnan(rounding_least(alike, 1)));
	assert_true(isnan(rounding_least(NULL, 0)));
}

static void
values_on_no_grid_have_no_step(void **state)
{
	const double uneven[] = {0, 0.1, 0.1, 0.25, 0.4}, alone[] = {1, 2, 3},
		     equal[] = {2, 2, 2}, endless[] = {1, 1, INFINITY};

	(void)state;
	assert_near(rounding_step(uneven, 5), 0, 0);
	assert_near(rounding_step(alone, 3), 0, 0);
	assert_near(rounding_step(equal, 3), 0, 0);
	assert_near(rounding_step(endless, 3), 0, 0);
	assert_near(rounding_step(NULL, 0), 0, 0);
	assert_near(rounding_step(equal, 1), 0, 0);
}

static void
equal_values_fill_their_cell_and_no_other(void **state)
{
	const double sorted[] = {0, 0, 1, 2, 2, 2, 4};
	const double wanted[] = {0.125, 0.375, 1, 2 - 1.0 / 3, 2, 2 + 1.0 / 3, 4};
	const double both[] = {-0.25, 0.25};
	double spread[7];

	(void)state;
	rounding_spread(sorted, 7, 1, true, spread);
	for (size_t i = 0; i < 7; i++)
		assert_near(spread[i], wanted[i], 1e-15);
	rounding_spread(sorted, 7, 1, false, spread);
	assert_near(spread[0], both[0], 0);
	assert_near(spread[1], both[1], 0);
	rounding_spread(sorted, 7, 0, true, spread);
	for (size_t i = 0; i < 7; i++)
		assert_near(spread[i], sorted[i], 0);
}

static void
spread_values_round_to_what_they_were_and_stay_in_order(void **state)
{
	static const double steps[] = {0.01, 0.1, 0.5, 3};
	gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
	double sorted[500], spread[500];

	(void)state;
	gsl_rng_set(rng, seed_take(21));
	for (size_t k = 0; k < LENGTH(steps); k++) {
		for (size_t i = 0; i < 500; i++)
			sorted[i] =
			    rint(fabs(gsl_ran_gaussian(rng, 2)) / steps[k]) * steps[k];
		gsl_sort(sorted, 1, 500);
		double step = rounding_step(sorted, 500);
		assert_near(step, steps[k], 1e-12);
		rounding_spread(sorted, 500, step, true, spread);
		for (size_t i = 0; i < 500; i++) {
			assert_near(spread[i], sorted[i], step / 2 * (1 + 1e-9));
			assert_true(spread[i] > 0);
			assert_true(i == 0 || spread[i] > spread[i - 1]);
		}
	}
	gsl_rng_free(rng);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_step_is_what_all_values_are_multiples_of),
	    cmocka_unit_test(what_the_computing_makes_of_equal_values_is_no_step),
	    cmocka_unit_test(values_on_no_grid_have_no_step),
	    cmocka_unit_test(equal_values_fill_their_cell_and_no_other),
	    cmocka_unit_test(spread_values_round_to_what_they_were_and_stay_in_order),
	};
	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
