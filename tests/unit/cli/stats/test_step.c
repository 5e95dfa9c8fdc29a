/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "cli/stats/step.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

enum { MOST = 84 };

static void
make(struct slope_point *points, const double *values, size_t count, double variance)
{
	for (size_t i = 0; i < count; i++)
		points[i] = (struct slope_point){(double)i / 21, values[i], variance};
}

static void
a_step_of_six_shifts_is_found_where_no_line_is(void **state)
{
	static const double values[] = {0.37, 1.70, 3.3, 3.5, 3.4, 3.5};
	struct slope_point points[LENGTH(values)];
	struct step step;
	struct slope slope;
	struct published_table table =
	    published_begin(SOURCE_SCIPY, "step in six shifts: before, after, p");

	(void)state;
	make(points, values, LENGTH(values), 1e-4);
	assert_true(step_of(points, LENGTH(values), &step));
	assert_int_equal(step.n, 6);
	assert_int_equal(step.at, 2);
	/* computed with NumPy 1.24 and SciPy 1.10, every place tried */
	published_add(&table, step.before, 1.035, 1e-9);
	published_add(&table, step.after, 3.425, 1e-9);
	published_add(&table, step.p, 0.02225455629, 1e-9);
	published_end(&table);
	assert_true(step.over_line);
	assert_true(slope_of(points, LENGTH(values), &slope));
}

static void
points_count_by_their_own_uncertainty(void **state)
{
	static const double values[] = {1.41, 1.38, 1.47, 1.29, 1.31, 1.22, 1.25};
	static const double variances[] = {.006, .007, .0065, .002, .003, .0031, .009};
	struct slope_point points[LENGTH(values)];
	struct step step;
	struct published_table table = published_begin(
	    SOURCE_SCIPY, "step in seven uncertain shifts: before, after, p");

	(void)state;
	make(points, values, LENGTH(values), 1);
	for (size_t i = 0; i < LENGTH(values); i++)
		points[i].variance = variances[i];
	assert_true(step_of(points, LENGTH(values), &step));
	assert_int_equal(step.at, 3);
	published_add(&table, step.before, 1.420671937, 1e-9);
	published_add(&table, step.after, 1.273932107, 1e-9);
	published_add(&table, step.p, 0.2558128336, 1e-9);
	published_end(&table);
	/* and by the scatter between them where that is more */
	for (size_t i = 0; i < LENGTH(values); i++)
		points[i].value += i % 2 ? -0.2 : 0.2;
	assert_true(step_of(points, LENGTH(values), &step));
	assert_near(step.p, 1, 1e-9);
}

static void
too_few_or_unusable_points_give_none(void **state)
{
	static const double values[] = {1, 1, 1, 9, 9, 9};
	struct slope_point points[LENGTH(values)];
	struct step step;

	(void)state;
	make(points, values, LENGTH(values), 0.1);
	assert_true(step_of(points, 0, &step));
	assert_true(isnan(step.p) && isnan(step.before));
	assert_true(step_of(points, SLOPE_LEAST - 1, &step));
	assert_true(isnan(step.p));
	points[0].value = NAN;
	assert_true(step_of(points, LENGTH(values), &step));
	assert_int_equal(step.n, 5);
	assert_int_equal(step.at, 3); /* of those given */
	assert_int_equal(step.last, 2);
	points[2].value = NAN;
	points[0].value = 1;
	assert_true(step_of(points, LENGTH(values), &step));
	assert_int_equal(step.last, 1);
	points[2].value = 1;
	points[0].value = NAN;
	points[1].variance = 0;
	assert_true(step_of(points, LENGTH(values), &step));
	assert_true(isnan(step.p));
}

static void
what_is_all_alike_has_no_step(void **state)
{
	static const double values[] = {2, 2, 2, 2, 2, 2};
	struct slope_point points[LENGTH(values)];
	struct step step;

	(void)state;
	make(points, values, LENGTH(values), 1e-9);
	assert_true(step_of(points, LENGTH(values), &step));
	assert_near(step.p, 1, 0);
	assert_false(step.over_line);
}

static double
normal(unsigned short random[3])
{
	double u = 1 - erand48(random), v = erand48(random);

	return sqrt(-2 * log(u)) * cos(2 * M_PI * v);
}

struct told {
	double step, over_line;
};

/* The share of series in which a step is shown, and is preferred to a line. */
static struct told
told(unsigned short random[3], size_t count, double between, double by, double slope)
{
	enum { RUNS = 2000 };
	struct told told = {0, 0};

	for (int run = 0; run < RUNS; run++) {
		struct slope_point points[MOST];
		struct step step;
		for (size_t i = 0; i < count; i++) {
			double own = 0.1 + 0.4 * erand48(random), x = (double)i;
			double level =
			    (i < count / 2 ? 0 : by) + slope * x / (double)count;
			points[i] = (struct slope_point){x,
			    level + sqrt(own + between * between) * normal(random),
			    own};
		}
		assert_true(step_of(points, count, &step));
		bool shown = step.p < 0.05;
		told.step += shown;
		told.over_line += shown && step.over_line;
	}
	return (struct told){told.step / RUNS, told.over_line / RUNS};
}

static void
chance_alone_steps_no_oftener_than_p_says(void **state)
{
	static const size_t counts[] = {5, 6, 12, 30, MOST};
	static const double betweens[] = {0, 0.5, 3};
	unsigned short random[3] = {(unsigned short)seed_take(11)};

	(void)state;
	for (size_t i = 0; i < LENGTH(counts); i++)
		for (size_t k = 0; k < LENGTH(betweens); k++) {
			struct told by_chance =
			    told(random, counts[i], betweens[k], 0, 0);
			print_message("%zu times, %.1f between them: %.3f\n", counts[i],
			    betweens[k], by_chance.step);
			assert_true(by_chance.step < 0.065);
			/* never below 1: on the safe side where nothing is between */
			if (betweens[k] > 2)
				assert_true(by_chance.step > 0.005);
		}
}

static void
a_step_is_told_from_a_line(void **state)
{
	unsigned short random[3] = {(unsigned short)seed_take(12)};

	(void)state;
	for (size_t count = 6; count <= MOST; count *= 2) {
		struct told step = told(random, count, 0.5, 4, 0),
			    line = told(random, count, 0.5, 0, 6);
		print_message("%zu times: a step is shown %.2f, as a step %.2f; a line "
			      "is shown as a step %.2f\n",
		    count, step.step, step.over_line, line.over_line);
		assert_true(step.step > 0.5 || count == 6);
		assert_true(step.over_line > line.over_line);
		assert_true(line.over_line < 0.2);
	}
}

/* Of shifts that take after the one before without any step. */
static void
neighbours_that_are_alike_are_told(void **state)
{
	enum { RUNS = 2000, SHIFTS = 60 };
	static const double memories[] = {0, 0.5, 0.8};
	unsigned short random[3] = {(unsigned short)seed_take(13)};

	(void)state;
	for (size_t k = 0; k < LENGTH(memories); k++) {
		int shown = 0, warned = 0;
		for (int run = 0; run < RUNS; run++) {
			struct slope_point points[SHIFTS];
			struct step step;
			double level =
			    normal(random) / sqrt(1 - memories[k] * memories[k]);
			for (size_t i = 0; i < SHIFTS; i++) {
				points[i] =
				    (struct slope_point){(double)i, level, 0.01};
				level = memories[k] * level + normal(random);
			}
			assert_true(step_of(points, SHIFTS, &step));
			bool alike = step.r1 > step.r1_bound;
			shown += step.p < 0.05;
			warned += step.p < 0.05 && alike;
		}
		print_message(
		    "memory %.1f: a step is shown %.3f, with a warning %.3f\n",
		    memories[k], (double)shown / RUNS, (double)warned / RUNS);
		assert_true(memories[k] > 0 || shown < 0.05 * RUNS);
		/* at most every tenth series shows one without the warning */
		assert_true(shown - warned < 0.1 * RUNS);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_step_of_six_shifts_is_found_where_no_line_is),
	    cmocka_unit_test(points_count_by_their_own_uncertainty),
	    cmocka_unit_test(too_few_or_unusable_points_give_none),
	    cmocka_unit_test(what_is_all_alike_has_no_step),
	    cmocka_unit_test(chance_alone_steps_no_oftener_than_p_says),
	    cmocka_unit_test(a_step_is_told_from_a_line),
	    cmocka_unit_test(neighbours_that_are_alike_are_told),
	};
	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
