/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/lateness.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <time.h>
#include <cmocka.h>

#include "tests/unit/near.h"
#include "tests/unit/seed.h"

static struct mono
at(double s)
{
	return (struct mono){(int64_t)(s * 1e9)};
}

static int
order(const void *left, const void *right)
{
	double a = *(const double *)left, b = *(const double *)right;

	return (a > b) - (a < b);
}

/* Never below the true one, and within a class of it. */
static void
quantiles_are_those_of_what_was_fed(void **state)
{
	enum { COUNT = 20000 };
	static double ms[COUNT];
	static struct lateness lateness;
	const double ratios[] = {0.5, 0.9, 0.99, 0.999, 1};

	(void)state;
	srand(seed_take((unsigned)time(NULL)));
	lateness = (struct lateness){0};
	for (int i = 0; i < COUNT; i++) {
		ms[i] = 0.01 * pow(10, 6.0 * rand() / RAND_MAX); /* 10 us to 10 s */
		lateness_add(&lateness, at(1 + i * 0.1), (int64_t)(ms[i] * 1e6));
	}
	qsort(ms, COUNT, sizeof ms[0], order);
	for (size_t i = 0; i < sizeof ratios / sizeof ratios[0]; i++) {
		double truth = ms[(int)ceil(ratios[i] * COUNT) - 1];
		double told = lateness_quantile_ms(&lateness, ratios[i]);

		assert_true(told >= truth * (1 - 1e-6));
		assert_true(told <= fmax(0.1, truth * 1.0906));
	}
	assert_near(lateness_worst_ms(&lateness), ms[COUNT - 1], 1e-5);
}

static void
one_in_a_hundred_is_not_among_the_99(void **state)
{
	static struct lateness lateness;

	(void)state;
	lateness = (struct lateness){0};
	assert_near(lateness_quantile_ms(&lateness, 0.99), 0, 0);
	assert_near(lateness_worst_ms(&lateness), 0, 0);
	for (int i = 0; i < 1000; i++)
		lateness_add(&lateness, at(1 + i), i % 100 ? 50000 : 1000000000);
	assert_near(lateness_quantile_ms(&lateness, 0.99), 0.1, 1e-9);
	lateness_add(&lateness, at(1001), 1000000000);
	assert_true(lateness_quantile_ms(&lateness, 0.99) >= 1000);
	assert_near(lateness_worst_ms(&lateness), 1000, 1e-9);
}

/* Whatever the class says that the latest is in. */
static void
no_quantile_is_above_the_worst(void **state)
{
	static struct lateness lateness;

	(void)state;
	for (int64_t ns = 1; ns < INT64_C(1000000000000); ns = ns * 3 / 2 + 1) {
		lateness = (struct lateness){0};
		lateness_add(&lateness, at(1), ns);
		assert_near(lateness_quantile_ms(&lateness, 0.99),
		    lateness_worst_ms(&lateness), 0);
	}
}

static void
what_is_two_hours_old_is_forgotten(void **state)
{
	static struct lateness lateness;

	(void)state;
	lateness = (struct lateness){0};
	lateness_add(&lateness, at(100), 5000000000);
	lateness_add(&lateness, at(100 + 3600), 1000000);
	assert_near(lateness_worst_ms(&lateness), 5000, 1e-9);
	lateness_add(&lateness, at(100 + 7200), 1000000);
	assert_near(lateness_worst_ms(&lateness), 1, 1e-9);
	lateness_add(&lateness, at(100 + 7300), 7000000);
	lateness_add(&lateness, at(100 + 90000), 2000000);
	assert_near(lateness_worst_ms(&lateness), 2, 1e-9);
	/* Years late has a class too. */
	lateness_add(&lateness, at(100 + 90001), INT64_MAX / 2);
	assert_true(lateness_quantile_ms(&lateness, 1) > 1e6);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(quantiles_are_those_of_what_was_fed),
	    cmocka_unit_test(one_in_a_hundred_is_not_among_the_99),
	    cmocka_unit_test(no_quantile_is_above_the_worst),
	    cmocka_unit_test(what_is_two_hours_old_is_forgotten),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
