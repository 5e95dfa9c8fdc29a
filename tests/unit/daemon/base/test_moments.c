/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/moments.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "tests/reference/nist_strd.h"
#include "tests/unit/published.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static void
certified_means_and_deviations_are_met(void **state)
{
	struct published_table means =
	    published_begin(SOURCE_STRD_UNIVARIATE, "running mean of a data set");
	struct published_table deviations = published_begin(
	    SOURCE_STRD_UNIVARIATE, "running standard deviation of a data set");

	(void)state;
	for (size_t i = 0; i < COUNT(nist_strd); i++) {
		const struct nist_strd *set = &nist_strd[i];
		struct moments moments;

		moments_init(&moments);
		for (size_t j = 0; j < set->count; j++)
			moments_add(&moments, set->values[j]);
		assert_int_equal(moments.count, set->count);
		published_add(
		    &means, moments_mean(&moments), set->mean, 1e-14 * fabs(set->mean));
		published_add(
		    &deviations, moments_sd(&moments), set->sd, set->near_sd * set->sd);
	}
	published_end(&means);
	published_end(&deviations);
}

static void
a_large_mean_does_not_swallow_the_deviation(void **state)
{
	struct published_table means =
	    published_begin(SOURCE_STRD_UNIVARIATE, "running mean of NumAcc2 to 4");
	struct published_table deviations = published_begin(
	    SOURCE_STRD_UNIVARIATE, "running standard deviation of NumAcc2 to 4");

	(void)state;
	for (size_t i = 0; i < COUNT(nist_numacc); i++) {
		const struct nist_numacc *set = &nist_numacc[i];
		struct moments moments;

		moments_init(&moments);
		moments_add(&moments, set->mean);
		for (int j = 0; j < NIST_NUMACC_PAIRS; j++) {
			moments_add(&moments, set->low);
			moments_add(&moments, set->high);
		}
		published_add(
		    &means, moments_mean(&moments), set->mean, 1e-14 * fabs(set->mean));
		published_add(
		    &deviations, moments_sd(&moments), 0.1, set->near_sd * 0.1);
	}
	published_end(&means);
	published_end(&deviations);
}

static void
nothing_is_told_before_there_is_something(void **state)
{
	struct moments moments;

	(void)state;
	moments_init(&moments);
	assert_true(isnan(moments_mean(&moments)));
	assert_true(isnan(moments_sd(&moments)));
	moments_add(&moments, 7);
	assert_true(fabs(moments_mean(&moments) - 7) < 1e-15);
	assert_true(isnan(moments_sd(&moments)));
}

static void
extremes_are_those_of_the_values(void **state)
{
	static const double values[] = {-3, -5.5, -1, -2};
	struct moments moments;

	(void)state;
	moments_init(&moments);
	for (size_t i = 0; i < COUNT(values); i++)
		moments_add(&moments, values[i]);
	assert_true(moments.min <= -5.5 && moments.min >= -5.5);
	assert_true(moments.max <= -1 && moments.max >= -1);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(certified_means_and_deviations_are_met),
	    cmocka_unit_test(a_large_mean_does_not_swallow_the_deviation),
	    cmocka_unit_test(nothing_is_told_before_there_is_something),
	    cmocka_unit_test(extremes_are_those_of_the_values),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
