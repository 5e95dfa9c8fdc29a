/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/wording/study_picture.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "tests/unit/near.h"

enum { MOST = 200 };

static double values[MOST];
static struct run_picture what;

/* Of the sum of three draws about 70; from value 150 on higher by `shift`. */
static struct study *
study_of(size_t n, double shift, size_t subgroup)
{
	unsigned short seed[3] = {1, 2, 5};

	for (size_t i = 0; i < n; i++)
		values[i] = 70 + erand48(seed) + erand48(seed) + erand48(seed) - 1.5 +
		            (i >= 150 ? shift : 0);
	const struct study_asked asked = {
	    .series = {values, NULL, n},
	    .lower = 65,
	    .upper = 75,
	    .target = NAN,
	    .method = subgroup ? STUDY_MEAN_SD : STUDY_INDIVIDUALS,
	    .subgroup = subgroup,
	    .centre = NAN,
	    .sigma = NAN,
	    .rules = RULES_USUAL,
	    .required = NAN,
	};
	struct study *study = study_new(&asked);

	assert_non_null(study);
	return study;
}

static double
fahrenheit(const void *of, double value)
{
	return value * 1.8 + *(const double *)of;
}

static void
limits_and_curve_are_in_the_unit_shown(void **state)
{
	static const double offset = 32;
	struct study *study = study_of(100, 0, 0);
	struct study_picture from = {study, fahrenheit, &offset, {0}, {0}};
	double area = 0;

	(void)state;
	study_picture_fill(&from, &what);
	assert_near(what.lower, 149, 1e-9);
	assert_near(what.upper, 167, 1e-9);
	assert_true(isnan(what.target));
	assert_near(what.centre, study->individuals.centre * 1.8 + 32, 1e-9);
	assert_int_equal(what.curve_count, STUDY_CURVE);
	assert_string_equal(what.curve_name, "normal");
	for (size_t i = 1; i < what.curve_count; i++)
		area += (what.curve_at[i] - what.curve_at[i - 1]) *
		        (what.curve_density[i] + what.curve_density[i - 1]) / 2;
	assert_near(area, 0.9973, 0.002);
	study_free(study);
}

static void
of_few_values_there_is_neither_control_nor_curve(void **state)
{
	static const double offset = 32;
	struct study *study = study_of(STABILITY_LEAST - 1, 0, 0);
	struct study_picture from = {study, fahrenheit, &offset, {0}, {0}};

	(void)state;
	study_picture_fill(&from, &what);
	assert_near(what.lower, 149, 1e-9);
	assert_true(
	    isnan(what.control_low) && isnan(what.centre) && isnan(what.control_high));
	assert_null(what.curve_at);
	assert_int_equal(what.curve_count, 0);
	study_free(study);
}

/* Values that are marked. */
static size_t
count_signals(const struct study *study)
{
	size_t count = 0;

	for (size_t i = 0; i < MOST; i++)
		count += study_picture_is_signal(study, i);
	return count;
}

static void
a_value_is_marked_where_a_pattern_points_at_it(void **state)
{
	struct study *study = study_of(MOST, 4, 0);
	size_t slots = 0;

	(void)state;
	for (size_t i = 0; i < study->signals.count; i++) {
		size_t slot = study->signals.list[i].slot;
		slots += i == 0 || slot != study->signals.list[i - 1].slot;
		assert_true(study_picture_is_signal(study, slot - 1));
	}
	assert_true(slots > 10);
	assert_int_equal(count_signals(study), slots);
	study_free(study);
}

static void
of_a_subgroup_its_first_value_is_marked(void **state)
{
	struct study *study = study_of(MOST, 4, 5);
	size_t slots = 0;

	(void)state;
	for (size_t i = 0; i < study->signals.count; i++) {
		size_t slot = study->signals.list[i].slot;
		slots += i == 0 || slot != study->signals.list[i - 1].slot;
		assert_true(study_picture_is_signal(study, 5 * (slot - 1)));
	}
	assert_true(slots > 2);
	assert_int_equal(count_signals(study), slots);
	study_free(study);
}

int
main(void)
{
	static const struct CMUnitTest tests[] = {
	    cmocka_unit_test(limits_and_curve_are_in_the_unit_shown),
	    cmocka_unit_test(of_few_values_there_is_neither_control_nor_curve),
	    cmocka_unit_test(a_value_is_marked_where_a_pattern_points_at_it),
	    cmocka_unit_test(of_a_subgroup_its_first_value_is_marked),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
