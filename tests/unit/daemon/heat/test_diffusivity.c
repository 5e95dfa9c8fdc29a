/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sheets with a thermocouple inside, made by the series and not by our scheme. */
#include "daemon/heat/diffusivity.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/heat/series.h"
#include "tests/unit/daemon/heat/stretches.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

enum { HEAT_S = 200 };
#define TAU_S 55.0

static double
normal(void)
{
	double u = (rand() + 0.5) / (RAND_MAX + 1.0);
	double v = (rand() + 0.5) / (RAND_MAX + 1.0);

	return sqrt(-2 * log(u)) * cos(2 * M_PI * v); /* Box and Muller */
}

/* The run of a sheet with this diffusivity, its thermocouple at `depth` and read with this
 * noise every second; the surfaces are exact. */
static void
make_run(double diffusivity, double thickness_m, double depth, double noise_dc)
{
	double b = thickness_m * thickness_m / 4 / diffusivity / TAU_S;

	fill(&face, 0, HEAT_S, 0);
	other.count = 0;
	for (int s = 0; s <= HEAT_S; s++)
		readings_add(&other, s,
		    23 +
			165 * series_approach(b,
				  soak_fourier(diffusivity, thickness_m, s),
				  2 * depth - 1) +
			noise_dc * normal());
}

static struct soak_case
case_of(const struct substance *substance, double thickness_m)
{
	return case_between(substance, thickness_m, 23, &face, &face);
}

static struct diffusivity_fit
fit(const struct soak_case *soak, double depth)
{
	struct soak_history inside = readings_history(&other);
	struct diffusivity_fit got;
	struct error error = {""};

	if (diffusivity_fit(soak, &inside, depth, &got, &error))
		fail_msg("refused: %s", error.text);
	return got;
}

/* Whatever the first guess.  Without noise what is left is the scheme's own error: a few
 * parts in 10 000 of the diffusivity. */
static void
the_diffusivity_of_the_series_is_found(void **state)
{
	static const double guess[] = {2e-8, 6e-8, 8e-8, 1.5e-7, 5e-7};
	struct published_table table = published_begin(SOURCE_CARSLAW_PLATE,
	    "diffusivity found from a thermocouple's course by the series, m2/s");

	(void)state;
	for (size_t i = 0; i < 5; i++) {
		struct diffusivity_fit got;
		struct substance first;
		struct soak_case soak;

		make_run(9.3e-8, 0.00635, 0.5, 0);
		substance_init_diffusivity(&first, guess[i]);
		soak = case_of(&first, 0.00635);
		got = fit(&soak, 0.5);
		published_add(&table, got.diffusivity, 9.3e-8, 5e-4 * 9.3e-8);
		assert_near(got.factor, 1, 0);
		assert_int_equal(got.count, HEAT_S + 1);
		assert_true(got.residual_dc < 0.02);
	}
	published_end(&table);
}

/* With a noise of 0.1 K the scheme's error is nothing beside the standard error. */
static void
it_is_found_within_its_standard_error(void **state)
{
	struct diffusivity_fit got;
	struct soak_case soak;

	(void)state;
	srand(seed_take(7));
	make_run(9.3e-8, 0.00635, 0.5, 0.3);
	soak = case_of(&bare, 0.00635);
	got = fit(&soak, 0.5);
	assert_near(got.diffusivity, 9.3e-8, 3 * got.standard_error);
	assert_true(got.standard_error < 1e-3 * got.diffusivity);
	assert_near(got.residual_dc, 0.3, 0.05);
	assert_true(fabs(got.correlation) < 0.2);
}

/* Of 200 runs with noise of their own, so many hold the truth within 1.96 standard errors:
 * 95 % of them, and by the binomial law hardly ever under 90 or over 99. */
static void
the_standard_error_is_honest(void **state)
{
	enum { RUNS = 200 };
	int within = 0;

	(void)state;
	srand(seed_take(2026));
	for (int i = 0; i < RUNS; i++) {
		struct diffusivity_fit got;
		struct soak_case soak;

		make_run(9.3e-8, 0.00635, 0.5, 0.5);
		soak = case_of(&bare, 0.00635);
		got = fit(&soak, 0.5);
		within += fabs(got.diffusivity - 9.3e-8) < 1.96 * got.standard_error;
	}
	assert_true(within >= 0.90 * RUNS);
	assert_true(within <= 0.99 * RUNS);
}

static void
any_depth_will_do(void **state)
{
	static const double depth[] = {0.2, 0.33, 0.61, 0.75};

	(void)state;
	for (size_t i = 0; i < 4; i++) {
		struct soak_case soak;

		make_run(9.3e-8, 0.00635, depth[i], 0);
		soak = case_of(&bare, 0.00635);
		assert_near(fit(&soak, depth[i]).diffusivity / 9.3e-8, 1, 2e-3);
	}
}

/* A wrong depth is seen in residuals that hang together. */
static void
a_wrong_depth_shows_in_the_correlation(void **state)
{
	struct diffusivity_fit good, wrong;
	struct soak_case soak;

	(void)state;
	srand(seed_take(11));
	make_run(9.3e-8, 0.00635, 0.5, 0.3);
	soak = case_of(&bare, 0.00635);
	good = fit(&soak, 0.5);
	wrong = fit(&soak, 0.2);
	assert_true(wrong.correlation > 0.8 && wrong.correlation > good.correlation);
	assert_true(wrong.residual_dc > 3 * good.residual_dc);
}

/* Only diffusivity over thickness squared can be found. */
static void
an_error_of_thickness_counts_twice(void **state)
{
	struct soak_case soak;

	(void)state;
	make_run(9.3e-8, 0.00635, 0.5, 0);
	soak = case_of(&bare, 0.00635 * 1.01);
	assert_near(fit(&soak, 0.5).diffusivity / 9.3e-8, 1.01 * 1.01, 1e-3);
}

static void
a_material_gets_a_factor(void **state)
{
	struct soak_case soak;
	struct diffusivity_fit got;

	(void)state;
	make_run(1.2 * DIFFUSIVITY, 0.00635, 0.5, 0);
	soak = case_of(&amorphous, 0.00635);
	got = fit(&soak, 0.5);
	assert_near(got.factor, 1.2, 1e-3);
	assert_near(got.diffusivity / DIFFUSIVITY, 1.2, 1e-3);
}

/* A melting material: its own run, computed with one and a half times the conductivity. */
struct taken {
	struct readings *readings;
};

static void
take(void *arg, double s, const double c[SOAK_NODES])
{
	struct taken *taken = arg;

	if (fabs(s - round(s)) < 1e-6)
		readings_add(taken->readings, s, c[SOAK_NODES / 2]);
}

static void
a_melting_material_gets_a_factor(void **state)
{
	struct taken taken = {&other};
	struct soak_watch watch = {take, &taken};
	struct substance faster = melting;
	struct soak_result result;
	struct soak_case soak;

	(void)state;
	faster.conductivity_scale = 1.5;
	fill(&face, 0, HEAT_S, 0);
	other.count = 0;
	soak = case_of(&faster, 0.006);
	assert_int_equal(soak_follow(&soak, &watch, &result, NULL), 0);
	soak = case_of(&melting, 0.006);
	assert_near(fit(&soak, 0.5).factor, 1.5, 1e-5);
}

static void
refused(const struct soak_case *soak, double depth, const char *word)
{
	struct soak_history inside = readings_history(&other);
	struct diffusivity_fit got;
	struct error error = {""};

	assert_int_equal(
	    diffusivity_fit(soak, &inside, depth, &got, &error), ERROR_INVALID);
	if (!strstr(error.text, word))
		fail_msg("'%s' does not say '%s'", error.text, word);
}

static void
what_tells_nothing_is_refused(void **state)
{
	struct soak_case soak;

	(void)state;
	make_run(9.3e-8, 0.00635, 0.5, 0);
	soak = case_of(&bare, 0.00635);
	other.count = 4;
	refused(&soak, 0.5, "at least 5");
	other.count = 100;
	refused(&soak, 0, "depth");
	refused(&soak, 1, "depth");
	other.c[7] = NAN;
	refused(&soak, 0.5, "no number");
	for (int i = 0; i < 100; i++)
		other.c[i] = 23;
	refused(&soak, 0.5, "warmer");
	soak.stretches[0].boundary = SOAK_FREE;
	refused(&soak, 0.5, "surfaces only");
}

/* Twenty times as fast as the first guess: beyond what is looked at. */
static void
a_minimum_far_away_is_refused(void **state)
{
	struct substance far;
	struct soak_case soak;

	(void)state;
	make_run(9.3e-8, 0.00635, 0.5, 0);
	substance_init_diffusivity(&far, 9.3e-8 / 20);
	soak = case_of(&far, 0.00635);
	refused(&soak, 0.5, "ten times");
	/* Readings after the heat are left out. */
	for (size_t i = 0; i < other.count; i++)
		other.s[i] += HEAT_S - 3;
	soak = case_of(&bare, 0.00635);
	refused(&soak, 0.5, "4 readings");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_diffusivity_of_the_series_is_found),
	    cmocka_unit_test(it_is_found_within_its_standard_error),
	    cmocka_unit_test(the_standard_error_is_honest),
	    cmocka_unit_test(any_depth_will_do),
	    cmocka_unit_test(a_wrong_depth_shows_in_the_correlation),
	    cmocka_unit_test(an_error_of_thickness_counts_twice),
	    cmocka_unit_test(a_material_gets_a_factor),
	    cmocka_unit_test(a_melting_material_gets_a_factor),
	    cmocka_unit_test(what_tells_nothing_is_refused),
	    cmocka_unit_test(a_minimum_far_away_is_refused),
	};

	return cmocka_run_group_tests(tests, make_substances, NULL);
}
