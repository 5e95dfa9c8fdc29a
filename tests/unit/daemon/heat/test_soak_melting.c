/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How sure the core is of a sheet that melts. */
#include "daemon/heat/soak.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/heat/stretches.h"
#include "tests/unit/near.h"

static double
core_band(const struct soak_case *soak, struct soak_tolerances tolerances)
{
	struct soak_case with = *soak;
	struct soak_result result;
	struct error error = {""};

	with.tolerances = tolerances;
	if (soak_compute(&with, &result, &error))
		fail_msg("refused: %s", error.text);
	return result.band[0].core_dc;
}

/* By how much less the core is with a diffusivity lower by a ratio. */
static double
core_loss(const struct soak_case *soak, double ratio)
{
	struct soak_case lower = *soak;
	struct substance poorer = *soak->substance;

	poorer.conductivity_scale -= ratio;
	lower.substance = &poorer;
	return follow(soak).state[0].core_c - follow(&lower).state[0].core_c;
}

static struct soak_case
case_that_melts(double to_s, double warmer_dc)
{
	face.count = 0;
	for (double s = 0; s <= to_s; s++)
		readings_add(&face, s, 23 + 172 * (1 - exp(-s / 60)) + warmer_dc);
	return case_between(&melting, 0.006, 23, &face, &face);
}

/* How far the core of another case lies from this one's, both at full accuracy. */
static double
core_apart(double core_c, const struct soak_case *shifted)
{
	return fabs(follow(shifted).state[0].core_c - core_c);
}

/* The larger of both ways of the diffusivity, or of the fusion. */
static double
larger_of(const struct soak_case *soak, double diffusivity, double fusion)
{
	double core_c = follow(soak).state[0].core_c, most = 0;

	for (int way = -1; way <= 1; way += 2) {
		struct substance moved = *soak->substance;
		struct soak_case shifted = *soak;

		moved.conductivity_scale += way * diffusivity;
		substance_scale_fusion(&moved, 1 + way * fusion);
		shifted.substance = &moved;
		most = fmax(most, core_apart(core_c, &shifted));
	}
	return most;
}

#define NEAR_RATIO 0.02 /* the band of what melts errs by less ... */
#define NEAR_DC 0.06    /* ... or by so many kelvin */

static void
assert_close(double value, double wanted)
{
	assert_near(value, wanted, NEAR_RATIO * wanted + NEAR_DC);
}

/* Sensitivities are computed coarsely; held against cases moved by hand and computed as
 * fine as the answer, while the front comes to the core, is there, and has passed it. */
static void
coarse_sensitivities_are_those_of_fine_cases(void **state)
{
	static const struct soak_tolerances usual = {.thickness = 0.02,
	    .diffusivity = 0.15,
	    .fusion = 0.1,
	    .surface_dc = 2,
	    .start_dc = 2};

	(void)state;
	for (double to_s = 100; to_s <= 200; to_s += 10) {
		struct soak_case soak = case_that_melts(to_s, 0), shifted = soak;
		double core_c = follow(&soak).state[0].core_c, parts[5];

		parts[0] = larger_of(&soak, 0.15, 0);
		parts[1] = larger_of(&soak, 0, 0.1);
		shifted.thickness_m *= 1.02;
		parts[2] = core_apart(core_c, &shifted);
		shifted = soak;
		shifted.start_c += 2;
		parts[3] = core_apart(core_c, &shifted);
		shifted = case_that_melts(to_s, 2);
		parts[4] = core_apart(core_c, &shifted);
		soak = case_that_melts(to_s, 0);
		assert_close(
		    core_band(&soak, (struct soak_tolerances){.diffusivity = 0.15}),
		    parts[0]);
		assert_close(core_band(&soak, (struct soak_tolerances){.fusion = 0.1}),
		    parts[1]);
		assert_close(
		    core_band(&soak, (struct soak_tolerances){.thickness = 0.02}),
		    parts[2]);
		assert_close(core_band(&soak, (struct soak_tolerances){.start_dc = 2}),
		    parts[3]);
		assert_close(
		    core_band(&soak, (struct soak_tolerances){.surface_dc = 2}),
		    parts[4]);
		assert_near(
		    core_band(&soak, usual) / hypot(hypot(hypot(parts[0], parts[1]),
							hypot(parts[2], parts[3])),
						  parts[4]),
		    1, NEAR_RATIO);
	}
}

/* As the front reaches the core, 15 % more of conductivity is worth twice 15 % less. */
static void
the_larger_way_counts_where_it_melts(void **state)
{
	struct soak_case soak = case_that_melts(170, 0);
	double band_dc =
	    core_band(&soak, (struct soak_tolerances){.diffusivity = 0.15});

	(void)state;
	assert_close(band_dc, -core_loss(&soak, -0.15));
	assert_true(band_dc > 2 * core_loss(&soak, 0.15));
	assert_true(
	    band_dc > 1.2 * (core_loss(&soak, 0.15) - core_loss(&soak, -0.15)) / 2);
}

static void
fusion_is_nothing_to_what_does_not_melt(void **state)
{
	struct soak_case soak = case_that_melts(100, 0);

	(void)state;
	soak.substance = &amorphous;
	assert_near(core_band(&soak, (struct soak_tolerances){.fusion = 0.1}), 0, 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(coarse_sensitivities_are_those_of_fine_cases),
	    cmocka_unit_test(the_larger_way_counts_where_it_melts),
	    cmocka_unit_test(fusion_is_nothing_to_what_does_not_melt),
	};

	return cmocka_run_group_tests(tests, make_substances, NULL);
}
