/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>

#include "cli/stats/distribution.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

/* P(T <= t; df, delta) by quadrature of the defining integral at 30 digits
 * (mpmath 1.2.1). */
static const struct row {
	double t, df, delta, p;
} rows[] = {
    {1, 5, 0.5, 0.66653570268727},
    {2, 5, 1, 0.77807466261621},
    {3, 2, 2, 0.62938565971844},
    {3, 9, 2, 0.77327342128762},
    {5, 9, 4, 0.70879332476033},
    {-1, 10, 1, 0.02680185676948},
    {0, 7, 1.5, 0.066807201268858},
    {10, 29, 8, 0.87834794268193},
    {21.85, 29, 18, 0.88847683411564},
    {21.85, 29, 21.85, 0.46789587115533},
    {24, 29, 30, 0.03291731953629},
    {40, 99, 36, 0.90356381860774},
    {40, 99, 44, 0.087885719701002},
    {50.4, 159, 46, 0.92659199486262},
    {50.4, 159, 55, 0.060474208232414},
    {69.1, 299, 65, 0.91209613060075},
    {69.1, 299, 74, 0.049997874406839},
};

static void
the_noncentral_t_equals_the_integral(void **state)
{
	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		double p = noncentral_t_cdf(rows[i].t, rows[i].df, rows[i].delta);
		if (!(fabs(p - rows[i].p) < 1e-10))
			fail_msg("t %g, df %g, delta %g: %.14g is not %.14g", rows[i].t,
			    rows[i].df, rows[i].delta, p, rows[i].p);
	}
}

static void
far_out_it_stays_a_probability(void **state)
{
	(void)state;
	assert_true(noncentral_t_cdf(1e6, 4999, 1e6) > 0.4);
	assert_true(noncentral_t_cdf(1e6, 4999, 1e6) < 0.6);
	assert_true(noncentral_t_cdf(-50, 30, 10) < 1e-12);
	assert_true(noncentral_t_cdf(1e3, 30, 0) > 1 - 1e-9);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_noncentral_t_equals_the_integral),
	    cmocka_unit_test(far_out_it_stays_a_probability),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
