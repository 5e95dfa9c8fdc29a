/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The diffusivity of a sheet from one that was heated with a thermocouple inside.
 *
 * Only diffusivity over thickness squared can be found from such a run: the thickness
 * must be measured, and an error in it of 1 % is one of 2 % in the diffusivity.
 * Pure; any thread.
 */
#ifndef DAEMON_HEAT_DIFFUSIVITY_H
#define DAEMON_HEAT_DIFFUSIVITY_H

#include "daemon/heat/soak.h"

struct error;

struct diffusivity_fit {
	double
	    diffusivity; /* m2/s: of a bare one, or the factor times the material's */
	double factor;   /* on the material's conductivity; 1 where there is none */
	double standard_error; /* of the diffusivity, from the residuals alone, m2/s */
	double residual_dc;    /* standard deviation of the residuals */
	double correlation; /* of neighbouring residuals: far above 0, the model lacks
	                          something (depth, contact, thickness) */
	size_t count;       /* readings used */
};

/*
 * Least squares over the readings of `inside`, taken at `depth` (ratio of the thickness
 * from the top face, 0.5 the midplane).  `soak` has one SOAK_SURFACES stretch or several;
 * its substance is a bare diffusivity (a first guess) or a material's, whose conductivity
 * is then fitted by a factor.  ERROR_INVALID: under 5 readings, readings that tell
 * nothing (no rise), no minimum between a tenth and ten times the first guess.
 * ERROR_MEMORY.
 */
int diffusivity_fit(const struct soak_case *soak, const struct soak_history *inside,
    double depth, struct diffusivity_fit *fit, struct error *error);

#endif
