/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>

#include "cli/stats/capability.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static struct capability
of(const double *values, size_t count, double lower, double upper)
{
	const struct series series = {.values = values, .count = count};

	return capability_of(&series, lower, upper);
}

static uint64_t random_state;

static double
normal(void)
{
	return normal_next(&random_state);
}

static int
seed_random(void **state)
{
	numerics_started(state);
	random_state = seed_take(20260303);
	return 0;
}

/* Shares of series: with intervals, and of those with intervals that hold the truth. */
struct coverage {
	double shown, cp, pp, ppk, ppk_least, ppk_most;
};

/* AR(1) series of variance 1, one s off the middle of limits four s away from it. */
static struct coverage
cover(double phi, size_t n, int runs)
{
	enum { N = 160 };
	const double lower = -3, upper = 5, p = 8.0 / 6, pk = 1;
	struct coverage share = {0};
	double values[N];

	assert_true(n <= N);
	for (int run = 0; run < runs; run++) {
		values[0] = normal();
		for (size_t i = 1; i < n; i++)
			values[i] =
			    phi * values[i - 1] + sqrt(1 - phi * phi) * normal();
		struct capability c = of(values, n, lower, upper);
		const struct capability_index *within = &c.within,
					      *overall = &c.overall;
		share.shown += c.memory != CAPABILITY_TOO_DEPENDENT;
		/* no comparison holds with a NAN */
		share.cp += within->p_95.low < p && p < within->p_95.high;
		share.pp += overall->p_95.low < p && p < overall->p_95.high;
		share.ppk += overall->pk_95.low < pk && pk < overall->pk_95.high;
		share.ppk_least += c.ppk_least < pk;
		share.ppk_most += c.ppk_most > pk;
	}
	share.cp /= runs;
	share.pp /= share.shown;
	share.ppk /= share.shown;
	share.ppk_least /= share.shown;
	share.ppk_most /= share.shown;
	share.shown /= runs;
	return share;
}

/* 1000 runs: one standard error of 0.95 is 0.007. */
static void
independent_values_are_covered_as_often_as_said(void **state)
{
	static const size_t counts[] = {30, 160};

	(void)state;
	for (size_t i = 0; i < LENGTH(counts); i++) {
		struct coverage share = cover(0, counts[i], 1000);
		assert_true(share.shown > 0.97);
		assert_near(share.cp, 0.95, 0.02);
		assert_near(share.pp, 0.95, 0.02);
		assert_near(share.ppk, 0.95, 0.02);
		assert_near(share.ppk_least, 0.95, 0.02);
		/* of two limits one binds: each has half of the 5 % */
		assert_near(share.ppk_most, 0.975, 0.02);
	}
}

/*
 * P(index <= y) with limits b deviations from their middle and the mean off by xi (W. L. Pearn
 * and P. C. Lin, from memory; 400,000 simulated runs agree): a truth to hold the indices
 * against.  The values at five places: computed with SciPy 1.10.
 */
static double
index_cdf(double n, double b, double xi, double y)
{
	enum { STEPS = 4000 };
	double root = sqrt(n), width = b * root / STEPS, sum = 0;

	for (int i = 0; i <= STEPS; i++) {
		double t = width * i, off = b * root - t;
		double weight = i == 0 || i == STEPS ? 1 : i % 2 ? 4 : 2;
		double up = t + xi * root, down = t - xi * root;
		double density =
		    (exp(-up * up / 2) + exp(-down * down / 2)) / sqrt(2 * M_PI);
		sum += weight * density *
		       gsl_cdf_chisq_P((n - 1) * off * off / (9 * n * y * y), n - 1);
	}
	return 1 - sum * width / 3;
}

static const struct index_share {
	size_t n;
	double b, xi, y, share;
} index_shares[] = {
    {30, 4, 0, 1.2, 0.27311128},
    {30, 4, 0, 1.5, 0.84459354},
    {50, 4, 0.5, 1.2, 0.57783708},
    {100, 4, 0, 1.3, 0.45281713},
    {100, 5, 1, 1.4, 0.72426710},
};

static void
indices_are_distributed_as_they_must(void **state)
{
	enum { RUNS = 1000 };
	double values[100];
	struct published_table shares = published_begin(
	    SOURCE_SCIPY, "share of studies with a smaller Cpk, simulated here");

	(void)state;
	for (size_t i = 0; i < LENGTH(index_shares); i++) {
		const struct index_share *row = &index_shares[i];
		assert_near(index_cdf((double)row->n, row->b, row->xi, row->y),
		    row->share, 1e-7);
		int below = 0;
		for (int run = 0; run < RUNS; run++) {
			for (size_t k = 0; k < row->n; k++)
				values[k] = row->xi + normal();
			below +=
			    of(values, row->n, -row->b, row->b).overall.pk <= row->y;
		}
		/* four standard errors */
		published_add(&shares, (double)below / RUNS, row->share, 0.064);
	}
	published_end(&shares);
}

/* 2000 runs: one standard error of 0.95 is 0.005. */
static void
dependent_values_are_covered_nearly_as_often(void **state)
{
	static const struct {
		double phi, shown, two_sided, one_sided;
	} rows[] = {
	    {0.5, 0.99, 0.94, 0.94},
	    {0.8, 0.88, 0.93, 0.93}, /* worth 18 independent values */
	};

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		struct coverage share = cover(rows[i].phi, 160, 2000);
		printf("AR(1) %.1f, n = 160: shown in %.3f; Pp covered in %.3f, Ppk in "
		       "%.3f, above its bound in %.3f, below the other in %.3f\n",
		    rows[i].phi, share.shown, share.pp, share.ppk, share.ppk_least,
		    share.ppk_most);
		assert_true(share.shown > rows[i].shown);
		assert_true(share.pp > rows[i].two_sided);
		assert_true(share.ppk > rows[i].two_sided);
		assert_true(share.ppk_least > rows[i].one_sided);
		assert_true(share.ppk_most > rows[i].one_sided);
	}
}

/* Worth 2.3 independent values; r1 is within its bound in about one series of sixty. */
static void
strong_memory_in_few_values_gets_no_interval(void **state)
{
	(void)state;
	assert_true(cover(0.9, 30, 2000).shown < 0.05);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(independent_values_are_covered_as_often_as_said),
	    cmocka_unit_test(indices_are_distributed_as_they_must),
	    cmocka_unit_test(dependent_values_are_covered_nearly_as_often),
	    cmocka_unit_test(strong_memory_in_few_values_gets_no_interval),
	};

	return cmocka_run_group_tests(tests, seed_random, NULL);
}
