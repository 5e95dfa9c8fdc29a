/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>

#include "cli/stats/root.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"

static double
square_less(double x, void *context)
{
	return x * x - *(double *)context;
}

static double
no_number_below_2(double x, void *context)
{
	(void)context;
	return x < 2 ? NAN : x - 3;
}

static double
never_zero(double x, void *context)
{
	(void)context;
	return 1 + x * x;
}

static void
a_crossing_is_found_to_the_last_digits(void **state)
{
	double of = 2;
	const struct root_function function = {square_less, &of};

	(void)state;
	assert_near(root_between(&function, 0, 2), M_SQRT2, 1e-14);
	of = 4;
	assert_near(root_between(&function, 0, 2), 2, 0);
	assert_near(root_between(&function, 2, 5), 2, 0);
}

static void
ends_on_one_side_have_no_crossing(void **state)
{
	double of = 2;
	const struct root_function function = {square_less, &of};

	(void)state;
	assert_true(isnan(root_between(&function, 2, 3)));
	assert_true(isnan(root_between(&function, 3, 1)));
	assert_true(isnan(root_between(&function, NAN, 3)));
	assert_true(isnan(root_between(&function, 0, INFINITY)));
}

/* GSL takes none. */
static void
what_is_no_number_has_no_root(void **state)
{
	const struct root_function function = {no_number_below_2, NULL};

	(void)state;
	assert_true(isnan(root_between(&function, 0, 5)));
	assert_near(root_between(&function, 2, 5), 3, 1e-13);
}

static void
a_guess_may_be_far_away(void **state)
{
	static const double guesses[] = {1e-12, 0.3, 1.5, 1e12};
	double of = 2;
	const struct root_function function = {square_less, &of};
	const struct root_function none = {never_zero, NULL};

	(void)state;
	for (size_t i = 0; i < sizeof guesses / sizeof *guesses; i++)
		assert_near(root_near(&function, guesses[i]), M_SQRT2, 1e-14);
	assert_true(isnan(root_near(&none, 1)));
	assert_true(isnan(root_near(&function, 0)));
	assert_true(isnan(root_near(&function, -1)));
	assert_true(isnan(root_near(&function, NAN)));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_crossing_is_found_to_the_last_digits),
	    cmocka_unit_test(ends_on_one_side_have_no_crossing),
	    cmocka_unit_test(what_is_no_number_has_no_root),
	    cmocka_unit_test(a_guess_may_be_far_away),
	};
	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
