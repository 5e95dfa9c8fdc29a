/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <float.h>
#include <math.h>

#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/cli/stats/study_checked.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

enum { N = 60 };

static uint64_t random_state;

static int
seed_random(void **state)
{
	numerics_started(state);
	random_state = seed_take(20261205);
	return 0;
}

static const struct ewma_setting ewma = {0.2, 3};
static const struct cusum_setting cusum = {0.5, 5};

static struct study_asked
everything(const double *values, size_t count, double lower, double upper)
{
	struct study_asked asked = study_usual(values, count, lower, upper);

	asked.rules = RULES_USUAL;
	asked.ewma = &ewma;
	asked.cusum = &cusum;
	return asked;
}

static void
assert_same(double got, double wanted)
{
	assert_true(isnan(got) == isnan(wanted));
	if (!isnan(wanted))
		assert_near(got, wanted, 1e-12 * fabs(wanted));
}

/* What has no unit is the same, what has one is 2^exponent times as large. */
static void
assert_scaled(const struct study *got, const struct study *usual, int exponent)
{
	const double plain[][2] = {{got->ppk.value, usual->ppk.value},
	    {got->ppk.low, usual->ppk.low}, {got->ppk.high, usual->ppk.high},
	    {got->ppk.lower_bound, usual->ppk.lower_bound}, {got->pp, usual->pp},
	    {got->cpk.value, usual->cpk.value}, {got->cpk.low, usual->cpk.low},
	    {got->cpm, usual->cpm}, {got->c.r1, usual->c.r1},
	    {got->c.lag1, usual->c.lag1}, {got->normality.p, usual->normality.p},
	    {got->expected_above, usual->expected_above},
	    {got->fit_bounds.least, usual->fit_bounds.least},
	    {got->ppk_without_outliers, usual->ppk_without_outliers},
	    {fits_p(&got->fits, FAMILY_NORMAL), fits_p(&usual->fits, FAMILY_NORMAL)},
	    {fits_p(&got->fits, FAMILY_GAMMA), fits_p(&usual->fits, FAMILY_GAMMA)}};
	const double with_unit[][2] = {{got->described.sd, usual->described.sd},
	    {got->described.mean, usual->described.mean}, {got->c.sd, usual->c.sd},
	    {got->c.sd_within, usual->c.sd_within}, {got->c.min, usual->c.min},
	    {got->c.mean, usual->c.mean}, {got->c.max, usual->c.max},
	    {got->quantiles.x99865, usual->quantiles.x99865},
	    {got->moving.mean, usual->moving.mean},
	    {got->moving.max, usual->moving.max},
	    {got->sigma_within, usual->sigma_within},
	    {got->individuals.low, usual->individuals.low},
	    {got->individuals.high, usual->individuals.high},
	    {got->subgroups.grand_mean, usual->subgroups.grand_mean},
	    {got->subgroups.sd.high, usual->subgroups.sd.high},
	    {got->centre, usual->centre}, {got->sigma, usual->sigma},
	    {got->ewma.last, usual->ewma.last}, {got->ewma.high, usual->ewma.high},
	    {got->cusum.high_max, usual->cusum.high_max},
	    {got->steady.low, usual->steady.low},
	    {got->steady.high, usual->steady.high}, {got->step, usual->step},
	    {got->outlying.sd, usual->outlying.sd},
	    {got->sorted[N / 2], usual->sorted[N / 2]}, {got->upper, usual->upper},
	    {got->lower, usual->lower}, {got->target, usual->target}};

	for (size_t i = 0; i < LENGTH(plain); i++)
		assert_same(plain[i][0], plain[i][1]);
	for (size_t i = 0; i < LENGTH(with_unit); i++)
		assert_same(with_unit[i][0], ldexp(with_unit[i][1], exponent));
	assert_int_equal(got->verdict, usual->verdict);
	assert_int_equal(got->reasons, usual->reasons);
	assert_int_equal(got->stability.verdict, usual->stability.verdict);
	assert_int_equal(got->signals.count, usual->signals.count);
	for (size_t i = 0; i < usual->fits.count; i++) {
		assert_same(got->fits.list[i].quantiles.x50,
		    ldexp(usual->fits.list[i].quantiles.x50, exponent));
		assert_same(got->fits.list[i].log_likelihood,
		    usual->fits.list[i].log_likelihood - N * exponent * M_LN2);
	}
}

static void
no_unit_changes_what_is_found(void **state)
{
	static const int exponents[] = {-1000, -565, -400, 0, 60, 400, 532, 1000};
	double values[N] = {0}, scaled[N];

	(void)state;
	for (int way = 0; way < 4; way++) {
		for (size_t i = 0; i < N; i++) {
			double z = normal_next(&random_state);
			values[i] = way == 1 ? fabs(z) : way == 3 ? exp(z) : 20 + z;
		}
		struct study_asked asked = everything(values, N, NAN, 26);
		asked.lower = way == 1 ? NAN : 0.001;
		asked.target = 19;
		asked.zero_bounded = way == 1;
		asked.method = way == 2 ? STUDY_MEAN_SD : STUDY_INDIVIDUALS;
		asked.subgroup = 3;
		struct study *usual = study_new(&asked);
		assert_non_null(usual);
		for (size_t e = 0; e < LENGTH(exponents); e++) {
			int exponent = exponents[e];
			for (size_t i = 0; i < N; i++)
				scaled[i] = ldexp(values[i], exponent);
			struct study_asked other = asked;
			other.series.values = scaled;
			other.lower = ldexp(asked.lower, exponent);
			other.upper = ldexp(asked.upper, exponent);
			other.target = ldexp(asked.target, exponent);
			struct study *study = study_new(&other);
			assert_non_null(study);
			study_check(study);
			assert_scaled(study, usual, exponent);
			study_free(study);
		}
		study_free(usual);
	}
}

static double
any_magnitude(void)
{
	double power = 616 * normal_uniform(&random_state) - 308;
	double value = pow(10, power) * (1 + normal_uniform(&random_state));

	return fmin(normal_uniform(&random_state) < 0.3 ? -value : value, DBL_MAX);
}

/* A number as people ask for it: mostly near the values. */
static double
any_of(double near)
{
	double kind = normal_uniform(&random_state);
	double factor = 4 * normal_uniform(&random_state) - 2;

	if (kind < 0.2)
		return NAN;
	if (kind < 0.4 || !isfinite(near * factor))
		return any_magnitude();
	return near * factor;
}

static void
nothing_of_a_study_is_infinite(void **state)
{
	enum { RUNS = 4000 };
	double values[N] = {0};

	(void)state;
	for (int run = 0; run < RUNS; run++) {
		double scale = any_magnitude(), offset = any_magnitude();
		size_t n = 2 + (size_t)(normal_uniform(&random_state) * (N - 2));
		for (size_t i = 0; i < n; i++) {
			double value = normal_next(&random_state) * scale;
			value = run % 3 == 0   ? value + offset
			        : run % 3 == 1 ? fabs(value)
			                       : value;
			values[i] = run % 5 == 0 ? any_magnitude() : value;
		}
		struct study_asked asked =
		    everything(values, n, any_of(values[0]), any_of(values[0]));
		asked.target = any_of(values[0]);
		asked.centre = any_of(values[0]);
		asked.sigma = fabs(any_of(values[0]));
		asked.zero_bounded = run % 4 == 0;
		asked.method = run % 7 == 1   ? STUDY_MEAN_RANGE
		               : run % 7 == 2 ? STUDY_MEAN_SD
		                              : STUDY_INDIVIDUALS;
		asked.subgroup = 2;
		struct study *study = study_new(&asked);
		assert_non_null(study);
		study_check(study);
		study_free(study);
	}
}

static void
where_the_scatter_leaves_the_doubles_nothing_is_told(void **state)
{
	double values[N];

	(void)state;
	for (size_t i = 0; i < N; i++)
		values[i] =
		    (i * 7 % N < N / 2 ? 1 : -1) * DBL_MAX * (1 - 0.001 * (double)i);
	struct study_asked asked = everything(values, N, -DBL_MAX, DBL_MAX);
	struct study *study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	/* by scaling the index is known; the limits of the chart are no doubles */
	assert_near(study->ppk.value, 1.0 / 3, 0.05);
	assert_true(isnan(study->individuals.low) && isnan(study->individuals.high));
	study_free(study);
	/* a limit that is farther off than any number can say */
	for (size_t i = 0; i < N; i++)
		values[i] = 1e-300 * normal_next(&random_state);
	asked.lower = NAN;
	asked.upper = 1e300;
	study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	assert_true(isnan(study->ppk.value) && !study->ppk.quotable);
	assert_int_equal(study->verdict, STUDY_NOT_ESTABLISHED);
	assert_true((study->reasons & STUDY_BIT(STUDY_OUT_OF_RANGE)) != 0);
	study_free(study);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(no_unit_changes_what_is_found),
	    cmocka_unit_test(nothing_of_a_study_is_infinite),
	    cmocka_unit_test(where_the_scatter_leaves_the_doubles_nothing_is_told),
	};

	return cmocka_run_group_tests(tests, seed_random, NULL);
}
