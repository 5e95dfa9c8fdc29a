/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lags, sides that are missing, limits, what is told on the way, and what is refused. */
#include "daemon/heat/soak.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/heat/explicit.h"
#include "tests/unit/daemon/heat/series.h"
#include "tests/unit/daemon/heat/stretches.h"
#include "tests/unit/near.h"

/* Readings that are late by 2 s, put right but for how the end is guessed. */
static void
a_lag_is_put_right(void **state)
{
	struct soak_case right, late;

	(void)state;
	fill(&face, 0, 170, 0);
	fill(&other, 0, 170, 2);
	right = case_between(&amorphous, THICKNESS_M, 23, &face, &face);
	late = case_between(&amorphous, THICKNESS_M, 23, &other, &other);
	assert_true(
	    follow(&right).state[0].core_c - follow(&late).state[0].core_c > 0.7);
	late.lag_s = 2;
	assert_near(
	    follow(&late).state[0].core_c, follow(&right).state[0].core_c, 0.02);
	assert_near(follow(&late).state[0].surface_top_c, surface_at(170), 0.05);
}

static void
one_side_stands_for_both(void **state)
{
	struct soak_case both, top, bottom;

	(void)state;
	fill(&face, 0, 170, 0);
	both = case_between(&amorphous, THICKNESS_M, 23, &face, &face);
	top = case_between(&amorphous, THICKNESS_M, 23, &face, NULL);
	bottom = case_between(&amorphous, THICKNESS_M, 23, NULL, &face);
	assert_near(follow(&top).state[0].core_c, follow(&both).state[0].core_c, 1e-12);
	assert_near(
	    follow(&bottom).state[0].core_c, follow(&both).state[0].core_c, 1e-12);
}

/* What was seen before and after belongs to other sheets. */
static void
readings_outside_the_stretch_are_not_used(void **state)
{
	struct soak_case clean, dirty;

	(void)state;
	fill(&face, 0, 170, 0);
	clean = case_between(&amorphous, THICKNESS_M, 23, &face, &face);
	clean.lag_s = 1.5;
	fill(&other, -5, 175, 0);
	for (size_t i = 0; i < other.count; i++)
		if (other.s[i] < 0 || other.s[i] > 170)
			other.c[i] = 320;
	dirty = case_between(&amorphous, THICKNESS_M, 23, &other, &other);
	dirty.lag_s = 1.5;
	dirty.stretches[0].to_s = 170;
	assert_near(
	    follow(&dirty).state[0].core_c, follow(&clean).state[0].core_c, 1e-12);
}

static void
time_above_the_limit_is_that_of_the_hotter_face(void **state)
{
	struct soak_stretch way = {.boundary = SOAK_FREE,
	    .from_s = 200,
	    .to_s = 240,
	    .air_w_m2k = 8,
	    .air_c = 28};
	struct explicit_sheet sheet = {.thickness_m = THICKNESS_M,
	    .conductivity = 0.18,
	    .density = 1050,
	    .capacity = 2050,
	    .w_m2k = 8,
	    .emissivity = 0.93,
	    .air_c = 28,
	    .limit_c = 180};
	double half = THICKNESS_M / 2;
	double fo = soak_fourier(DIFFUSIVITY, THICKNESS_M, 200);
	struct soak_case soak;

	(void)state;
	face.count = other.count = 0;
	for (int s = 0; s <= 200; s++) {
		readings_add(&face, s, 23 + s);
		readings_add(&other, s, 23 + 0.5 * s);
	}
	soak = case_between(&amorphous, THICKNESS_M, 23, &other, &face);
	assert_true(isnan(follow(&soak).above_limit_s));
	soak.limit_c = 180.4;
	assert_near(follow(&soak).above_limit_s, 200 - 157.4, 1e-6);
	soak.limit_c = 300;
	assert_near(follow(&soak).above_limit_s, 0, 0);
	/* On the way too: as long as the explicit scheme has it. */
	soak = case_between(&amorphous, THICKNESS_M, 23, &face, &face);
	soak.limit_c = 180;
	soak.stretches[soak.stretch_count++] = way;
	for (int i = 0; i < EXPLICIT_NODES; i++)
		sheet.c[i] =
		    223 - half * half / DIFFUSIVITY * series_ramp(fo, (i - 60) / 60.0);
	explicit_run(&sheet, 40);
	assert_true(sheet.above_s > 3 && sheet.above_s < 39);
	assert_near(follow(&soak).above_limit_s, 43 + sheet.above_s, 0.1);
}

struct seen {
	size_t count;
	double last_s, core_c;
};

static void
see(void *arg, double s, const double c[SOAK_NODES])
{
	struct seen *seen = arg;

	assert_true(s > seen->last_s);
	seen->last_s = s;
	seen->core_c = c[SOAK_NODES / 2];
	seen->count++;
}

static void
every_profile_is_told(void **state)
{
	struct seen seen = {0, 0, 0};
	struct soak_watch watch = {see, &seen};
	struct soak_stretch exit_stretch = {.boundary = SOAK_EXIT,
	    .from_s = 170,
	    .to_s = 200,
	    .exit_top_c = 195,
	    .exit_bottom_c = NAN};
	struct soak_result result;
	struct soak_case soak;

	(void)state;
	fill(&face, 0, 170, 0);
	soak = case_between(&amorphous, THICKNESS_M, 23, &face, &face);
	soak.stretches[soak.stretch_count++] = exit_stretch;
	assert_int_equal(soak_follow(&soak, &watch, &result, NULL), 0);
	/* Steps of 1 s, each first one in four parts; the trials of a flux are not told. */
	assert_int_equal(seen.count, 173 + 33);
	assert_near(seen.last_s, 200, 1e-9);
	assert_near(seen.core_c, result.state[1].core_c, 0);
	assert_true(isnan(result.band[0].core_dc));
}

static void
refused(const struct soak_case *soak, const char *word)
{
	struct soak_result result;
	struct error error = {""};

	assert_int_equal(soak_compute(soak, &result, &error), ERROR_INVALID);
	if (!strstr(error.text, word))
		fail_msg("'%s' does not say '%s'", error.text, word);
}

static void
what_cannot_be_meant_is_refused(void **state)
{
	struct soak_case good, bad;

	(void)state;
	fill(&face, 0, 170, 0);
	good = case_between(&amorphous, THICKNESS_M, 23, &face, &face);
	bad = good;
	bad.thickness_m = 0;
	refused(&bad, "thickness");
	bad = good;
	bad.start_c = NAN;
	refused(&bad, "starts");
	bad = good;
	bad.lag_s = NAN;
	refused(&bad, "lag");
	bad = good;
	bad.stretch_count = 0;
	refused(&bad, "stretches");
	bad.stretch_count = SOAK_STRETCHES + 1;
	refused(&bad, "stretches");
	bad = good;
	bad.stretches[0].to_s = 0;
	refused(&bad, "before it begins");
	bad = good;
	bad.stretch_count = 2;
	bad.stretches[1] = bad.stretches[0];
	refused(&bad, "where the last one ends");
	bad = good;
	bad.stretches[0].from_s = 200;
	bad.stretches[0].to_s = 300;
	refused(&bad, "no readings");
	bad = good;
	bad.stretches[0].top.count = bad.stretches[0].bottom.count = 0;
	refused(&bad, "no readings");
}

static void
readings_that_cannot_be_meant_are_refused(void **state)
{
	struct soak_case soak;

	(void)state;
	fill(&face, 0, 170, 0);
	face.s[50] = face.s[49];
	soak = case_between(&amorphous, THICKNESS_M, 23, NULL, &face);
	refused(&soak, "do not go up");
	fill(&face, 0, 170, 0);
	face.c[50] = NAN;
	soak = case_between(&amorphous, THICKNESS_M, 23, &face, NULL);
	refused(&soak, "no number");
}

/* A face's flux asked of a bare diffusivity; air that is not told; an exit colder than it
 * went in. */
static void
boundaries_that_cannot_be_computed_are_refused(void **state)
{
	struct soak_stretch stretch = {.boundary = SOAK_FREE,
	    .from_s = 0,
	    .to_s = 100,
	    .air_w_m2k = 10,
	    .air_c = 25,
	    .exit_top_c = 15,
	    .exit_bottom_c = NAN};
	struct soak_case soak = case_empty(&bare, 23);

	(void)state;
	add_stretch(&soak, &stretch);
	refused(&soak, "diffusivity alone");
	soak.stretches[0].boundary = SOAK_EXIT;
	refused(&soak, "diffusivity alone");
	soak.stretches[0].boundary = SOAK_AIR;
	refused(&soak, "diffusivity alone");
	soak.substance = &amorphous;
	refused(&soak, "no readings of the oven's air");
	soak.stretches[0].air_w_m2k = NAN;
	refused(&soak, "exchanges");
	soak.stretches[0].air_w_m2k = 10;
	soak.stretches[0].air_c = NAN;
	soak.stretches[0].boundary = SOAK_FREE;
	refused(&soak, "surroundings");
	soak.stretches[0].boundary = SOAK_EXIT;
	refused(&soak, "no heating");
	soak.stretches[0].exit_top_c = NAN;
	refused(&soak, "no surface at the exit");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_lag_is_put_right),
	    cmocka_unit_test(one_side_stands_for_both),
	    cmocka_unit_test(readings_outside_the_stretch_are_not_used),
	    cmocka_unit_test(time_above_the_limit_is_that_of_the_hotter_face),
	    cmocka_unit_test(every_profile_is_told),
	    cmocka_unit_test(what_cannot_be_meant_is_refused),
	    cmocka_unit_test(readings_that_cannot_be_meant_are_refused),
	    cmocka_unit_test(boundaries_that_cannot_be_computed_are_refused),
	};

	return cmocka_run_group_tests(tests, make_substances, NULL);
}
