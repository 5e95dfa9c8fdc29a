/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Sheets and cases that the tests of heat share.  Property sets are of the size that
 * handbooks give for such materials (common practice, no source): what is checked are
 * solutions, which hold for any.
 */
#ifndef TESTS_UNIT_DAEMON_HEAT_SHEETS_H
#define TESTS_UNIT_DAEMON_HEAT_SHEETS_H

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/heat/soak.h"
#include "daemon/heat/substance.h"

static inline struct material_curve
curve_level(double value)
{
	return (struct material_curve){.count = 1, .at_c = {23}, .value = {value}};
}

static inline struct material_curve
curve_line(double low_c, double low, double high_c, double high)
{
	return (struct material_curve){
	    .count = 2, .at_c = {low_c, high_c}, .value = {low, high}};
}

/* ABS-like, constant properties: 8.362369e-8 m2/s. */
static inline struct material_settings
material_amorphous(void)
{
	return (struct material_settings){.name = "amorphous",
	    .structure = STRUCTURE_AMORPHOUS,
	    .density = 1050,
	    .heat_capacity = curve_level(2050),
	    .conductivity = curve_level(0.18),
	    .emissivity = 0.93,
	    .fusion_j_kg = NAN,
	    .melting_c = NAN,
	    .melting_width_dc = NAN};
}

/* HDPE-like: melts around 131 C. */
static inline struct material_settings
material_melting(void)
{
	return (struct material_settings){.name = "melting",
	    .structure = STRUCTURE_SEMICRYSTALLINE,
	    .density = 950,
	    .heat_capacity = curve_line(23, 1850, 131, 2500),
	    .conductivity = curve_line(23, 0.46, 131, 0.25),
	    .emissivity = 0.94,
	    .fusion_j_kg = 190e3,
	    .melting_c = 131,
	    .melting_width_dc = 6};
}

/* A surface's readings, made by a test. */
struct readings {
	size_t count;
	double s[4000], c[4000];
};

static inline void
readings_add(struct readings *readings, double s, double c)
{
	readings->s[readings->count] = s;
	readings->c[readings->count++] = c;
}

static inline struct soak_history
readings_history(const struct readings *readings)
{
	return (struct soak_history){readings->count, readings->s, readings->c};
}

/* One stretch between measured surfaces; tolerances 0, no limit. */
static inline struct soak_case
case_between(const struct substance *substance, double thickness_m, double start_c,
    const struct readings *top, const struct readings *bottom)
{
	struct soak_case soak = {.substance = substance,
	    .thickness_m = thickness_m,
	    .start_c = start_c,
	    .limit_c = NAN,
	    .stretch_count = 1};
	struct soak_stretch *stretch = &soak.stretches[0];

	stretch->boundary = SOAK_SURFACES;
	stretch->from_s = 0;
	if (top) {
		stretch->top = readings_history(top);
		stretch->to_s = top->s[top->count - 1];
	}
	if (bottom) {
		stretch->bottom = readings_history(bottom);
		stretch->to_s = bottom->s[bottom->count - 1];
	}
	return soak;
}

#endif
