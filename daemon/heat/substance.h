/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What conduction needs to know of a sheet material: conductivity, heat capacity and
 * enthalpy over temperature, made once from the material's settings.
 *
 * Densities and conductivities are those of the cold sheet and go with its cold
 * thickness: mass over area stays as the sheet expands.  Plain data; pure; any thread.
 */
#ifndef DAEMON_HEAT_SUBSTANCE_H
#define DAEMON_HEAT_SUBSTANCE_H

#include <stdbool.h>

struct error;
struct material_settings;

enum { SUBSTANCE_TABLE = 1024 }; /* steps of the enthalpy's table */

struct substance {
	bool constant;  /* conductivity and heat capacity are one number each */
	bool melts;     /* its enthalpy has a melting range: solved in enthalpy form */
	double density; /* kg/m3 */
	double emissivity;
	const struct material_settings
	    *material;             /* lent; NULL: of a bare diffusivity */
	double conductivity_scale; /* 1; other for a sensitivity to diffusivity */
	double constant_conductivity, constant_capacity; /* where constant */
	double fusion_j_kg;                              /* where it melts; else 0 */
	/* Enthalpy over even steps of temperature, J/kg above 23 C; all melting lies in
	 * it.  Points of the heat capacity far away do not widen the steps. */
	double table_low_c, table_step_c, enthalpy[SUBSTANCE_TABLE + 1];
};

/*
 * Returns 0; ERROR_INVALID with what is missing when the material has no density, heat
 * capacity or conductivity, or is semicrystalline without its melting: constant
 * properties are wrong by tens of degrees while it melts.  `material` is lent.
 */
int substance_init(struct substance *substance,
    const struct material_settings *material, struct error *error);

/* Melting takes `by` times as much heat from now on; above 0.  For a sensitivity; of one
 * that does not melt nothing changes. */
void substance_scale_fusion(struct substance *substance, double by);

/* A substance of which only the diffusivity is known, m2/s, above 0: good for measured
 * surfaces alone; what flows through a face cannot be computed. */
void substance_init_diffusivity(struct substance *substance, double diffusivity);

double substance_conductivity(
    const struct substance *substance, double c);                       /* W/(m K) */
double substance_capacity(const struct substance *substance, double c); /* J/(kg K) */
double substance_enthalpy(const struct substance *substance, double c); /* J/kg */

/* The enthalpy and the slope of the table there: what Newton's passes need, so that they
 * end exactly. */
double substance_heat(const struct substance *substance, double c, double *slope);

/* The mean over a range of temperature, m2/s: conductivity over density and the
 * enthalpy's slope from low to high. */
double substance_diffusivity(
    const struct substance *substance, double low_c, double high_c);

#endif
