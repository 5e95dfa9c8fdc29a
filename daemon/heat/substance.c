/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/heat/substance.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"

#define REFERENCE_C 23.0   /* enthalpy is counted from here */
#define BELL_REACH 8.0     /* standard deviations within which all melting lies */
#define TABLE_LOW_C 0.0    /* the table reaches at least from here ... */
#define TABLE_HIGH_C 300.0 /* ... to here; beyond it the curve itself is asked */

static double
curve_at(const struct material_curve *curve, double c)
{
	int i = 1;

	if (c <= curve->at_c[0])
		return curve->value[0];
	if (c >= curve->at_c[curve->count - 1])
		return curve->value[curve->count - 1];
	while (c > curve->at_c[i])
		i++;
	return curve->value[i - 1] + (curve->value[i] - curve->value[i - 1]) *
	                                 (c - curve->at_c[i - 1]) /
	                                 (curve->at_c[i] - curve->at_c[i - 1]);
}

/* The integral from the first point. */
static double
curve_integral(const struct material_curve *curve, double c)
{
	double sum = 0;
	int i = 0;

	if (c <= curve->at_c[0])
		return curve->value[0] * (c - curve->at_c[0]);
	for (; i + 1 < curve->count && c > curve->at_c[i + 1]; i++)
		sum += (curve->value[i] + curve->value[i + 1]) / 2 *
		       (curve->at_c[i + 1] - curve->at_c[i]);
	return sum + (curve->value[i] + curve_at(curve, c)) / 2 * (c - curve->at_c[i]);
}

static double
melted_ratio(const struct material_settings *material, double c)
{
	return erfc((material->melting_c - c) / material->melting_width_dc / M_SQRT2) /
	       2;
}

static double
exact_enthalpy(const struct substance *substance, double c)
{
	const struct material_settings *material = substance->material;
	double enthalpy = curve_integral(&material->heat_capacity, c) -
	                  curve_integral(&material->heat_capacity, REFERENCE_C);

	if (substance->melts)
		enthalpy +=
		    substance->fusion_j_kg *
		    (melted_ratio(material, c) - melted_ratio(material, REFERENCE_C));
	return enthalpy;
}

static void
fill_table(struct substance *substance)
{
	const struct material_settings *material = substance->material;
	double low = TABLE_LOW_C, high = TABLE_HIGH_C;

	if (substance->melts) {
		double reach = BELL_REACH * material->melting_width_dc;

		low = fmin(low, material->melting_c - reach);
		high = fmax(high, material->melting_c + reach);
	}
	substance->table_low_c = low;
	substance->table_step_c = (high - low) / SUBSTANCE_TABLE;
	for (int i = 0; i <= SUBSTANCE_TABLE; i++)
		substance->enthalpy[i] =
		    exact_enthalpy(substance, low + i * substance->table_step_c);
}

static int
refuse(struct error *error, const struct material_settings *material, const char *what)
{
	return error_set(error, ERROR_INVALID,
	    "material '%s' has no %s: nothing can be computed of its inside",
	    material->name, what);
}

static int
check(const struct material_settings *material, struct error *error)
{
	if (!(material->density > 0))
		return refuse(error, material, "density");
	if (material->heat_capacity.count < 1)
		return refuse(error, material, "heat capacity");
	if (material->conductivity.count < 1)
		return refuse(error, material, "conductivity");
	if (material->structure == STRUCTURE_SEMICRYSTALLINE &&
	    !(material->fusion_j_kg > 0 && isfinite(material->melting_c) &&
		material->melting_width_dc > 0))
		return error_set(error, ERROR_INVALID,
		    "material '%s' is semicrystalline and its heat of fusion, melting "
		    "temperature and width are not all told: without the melting the "
		    "core would be wrong by tens of degrees",
		    material->name);
	return 0;
}

int
substance_init(struct substance *substance, const struct material_settings *material,
    struct error *error)
{
	int failed = check(material, error);

	if (failed)
		return failed;
	memset(substance, 0, sizeof *substance);
	substance->material = material;
	substance->density = material->density;
	substance->emissivity = material->emissivity;
	substance->conductivity_scale = 1;
	substance->melts = material->structure == STRUCTURE_SEMICRYSTALLINE;
	substance->fusion_j_kg = substance->melts ? material->fusion_j_kg : 0;
	substance->constant = !substance->melts && material->heat_capacity.count == 1 &&
	                      material->conductivity.count == 1;
	substance->constant_capacity = material->heat_capacity.value[0];
	substance->constant_conductivity = material->conductivity.value[0];
	if (!substance->constant)
		fill_table(substance);
	return 0;
}

void
substance_scale_fusion(struct substance *substance, double by)
{
	if (!substance->melts)
		return;
	substance->fusion_j_kg *= by;
	fill_table(substance);
}

void
substance_init_diffusivity(struct substance *substance, double diffusivity)
{
	assert(diffusivity > 0);
	memset(substance, 0, sizeof *substance);
	substance->constant = true;
	substance->density = 1;
	substance->conductivity_scale = 1;
	substance->constant_capacity = 1;
	substance->constant_conductivity = diffusivity;
}

double
substance_conductivity(const struct substance *substance, double c)
{
	if (substance->constant)
		return substance->conductivity_scale * substance->constant_conductivity;
	return substance->conductivity_scale *
	       curve_at(&substance->material->conductivity, c);
}

double
substance_capacity(const struct substance *substance, double c)
{
	const struct material_settings *material = substance->material;
	double capacity, off;

	if (substance->constant)
		return substance->constant_capacity;
	capacity = curve_at(&material->heat_capacity, c);
	if (!substance->melts)
		return capacity;
	off = (c - material->melting_c) / material->melting_width_dc;
	return capacity + substance->fusion_j_kg / material->melting_width_dc *
	                      exp(-off * off / 2) / sqrt(2 * M_PI);
}

double
substance_heat(const struct substance *substance, double c, double *slope)
{
	double place, step;
	int i;

	if (substance->constant) {
		*slope = substance->constant_capacity;
		return *slope * (c - REFERENCE_C);
	}
	place = (c - substance->table_low_c) / substance->table_step_c;
	if (!(place >= 0 && place <= SUBSTANCE_TABLE)) {
		*slope = curve_at(&substance->material->heat_capacity, c);
		return exact_enthalpy(substance, c);
	}
	i = place < SUBSTANCE_TABLE ? (int)place : SUBSTANCE_TABLE - 1;
	step = substance->enthalpy[i + 1] - substance->enthalpy[i];
	*slope = step / substance->table_step_c;
	return substance->enthalpy[i] + step * (place - i);
}

double
substance_enthalpy(const struct substance *substance, double c)
{
	double slope;

	return substance_heat(substance, c, &slope);
}

double
substance_diffusivity(const struct substance *substance, double low_c, double high_c)
{
	enum { PARTS = 200 };
	double sum = 0, part_c = (high_c - low_c) / PARTS;

	if (substance->constant || !(part_c > 0))
		return substance_conductivity(substance, low_c) / substance->density /
		       substance_capacity(substance, low_c);
	for (int i = 0; i < PARTS; i++)
		sum += substance_conductivity(substance, low_c + (i + 0.5) * part_c);
	return sum / PARTS / substance->density * (high_c - low_c) /
	       (substance_enthalpy(substance, high_c) -
		   substance_enthalpy(substance, low_c));
}
