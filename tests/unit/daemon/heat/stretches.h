/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the tests of stretches share: three substances, a surface, a case to be filled.
 */
#ifndef TESTS_UNIT_DAEMON_HEAT_STRETCHES_H
#define TESTS_UNIT_DAEMON_HEAT_STRETCHES_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/heat/sheets.h"

#define THICKNESS_M 0.00635
#define DIFFUSIVITY (0.18 / 1050 / 2050)

static struct substance amorphous, melting, bare;
static struct material_settings amorphous_settings, melting_settings;
static struct readings face, other __attribute__((unused));

static inline int
make_substances(void **state)
{
	(void)state;
	amorphous_settings = material_amorphous();
	melting_settings = material_melting();
	substance_init_diffusivity(&bare, DIFFUSIVITY);
	return substance_init(&amorphous, &amorphous_settings, NULL) ||
	       substance_init(&melting, &melting_settings, NULL);
}

/* A surface that comes near 188 C, a reading a second. */
static inline double
surface_at(double s)
{
	return 23 + 165 * (1 - exp(-s / 55));
}

static inline void
fill(struct readings *readings, double from_s, double to_s, double late_s)
{
	readings->count = 0;
	for (double s = from_s; s <= to_s + 1e-9; s += 1)
		readings_add(readings, s, surface_at(s - late_s));
}

static inline struct soak_result
follow(const struct soak_case *soak)
{
	struct soak_result result;
	struct error error = {""};

	if (soak_follow(soak, NULL, &result, &error))
		fail_msg("refused: %s", error.text);
	return result;
}

static inline struct soak_case
case_empty(const struct substance *substance, double start_c)
{
	return (struct soak_case){.substance = substance,
	    .thickness_m = THICKNESS_M,
	    .start_c = start_c,
	    .limit_c = NAN};
}

static inline void
add_stretch(struct soak_case *soak, const struct soak_stretch *stretch)
{
	soak->stretches[soak->stretch_count++] = *stretch;
}

#endif
