/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The inside of a sheet from what was measured at its faces: conduction through the
 * thickness, stretch after stretch (in an oven, on the way to the next, to the form),
 * and how sure the answer is.
 *
 * x runs from the top face (0) to the bottom face (thickness).  In the plane nothing is
 * conducted.  Histories are bridged linearly, never smoothed: the core filters noise by
 * itself, and smoothing adds lag.  Constant or slowly varying properties:
 * Crank-Nicolson, the first step of a stretch in four parts of backward Euler, since there
 * the faces jump (nothing else does: a gap is a line too).  A material that melts:
 * backward Euler in enthalpy form with Newton passes, four parts a step.  Pure; any
 * thread; allocates
 * nothing.
 */
#ifndef DAEMON_HEAT_SOAK_H
#define DAEMON_HEAT_SOAK_H

#include <stdbool.h>
#include <stddef.h>

struct error;
struct substance;

enum {
	SOAK_NODES = 41, /* both faces among them; odd: one is the midplane */
	SOAK_STRETCHES = 24,
};
#define SOAK_STEP_S 1.0 /* the longest time step, unless the case says otherwise */

/* Readings of one place, ascending in time, all finite; lent. */
struct soak_history {
	size_t count;
	const double *s, *c;
};

enum soak_boundary {
	/* Both faces' temperatures measured; where one side has no history the other's
	 * holds for both, and the band grows by what the sides may differ. */
	SOAK_SURFACES,
	/* The surfaces are known at the end of the stretch alone: the constant flux into
	 * both faces that brings the mean of them there in this time. */
	SOAK_EXIT,
	/* A convection oven: `air` measured, `air_w_m2k` from air to both faces. */
	SOAK_AIR,
	/* Free: convection `air_w_m2k` to, and radiation with the material's emissivity
	 * into, surroundings of `air_c`. */
	SOAK_FREE,
};

struct soak_stretch {
	enum soak_boundary boundary;
	double from_s, to_s;             /* of the case's own clock; from < to */
	struct soak_history top, bottom; /* SOAK_SURFACES */
	double exit_top_c,
	    exit_bottom_c;       /* SOAK_EXIT; NAN: that side is not measured */
	struct soak_history air; /* SOAK_AIR */
	double air_w_m2k, air_c; /* see above */
};

/* Each is half of a 95 % interval; 0: exact. */
struct soak_tolerances {
	double thickness;   /* ratio */
	double diffusivity; /* ratio */
	double surface_dc;  /* of all surfaces together */
	double gain;        /* ratio of a surface's rise above the start */
	double start_dc;
	double lag_s;
	double side_dc; /* how much an unmeasured side may differ from the other */
	double oven_air, free_air; /* ratio of air_w_m2k in SOAK_AIR, in SOAK_FREE */
	double oven_air_dc, free_air_dc; /* of the oven's air, of the surroundings */
	double fusion;                   /* ratio of the heat that melting takes */
	double flux_fall; /* ratio of the mean by which the flux of SOAK_EXIT may have
	                     begun above it and ended under it */
};

struct soak_case {
	const struct substance *substance; /* lent */
	double thickness_m;                /* cold; above 0 */
	double start_c;                    /* uniform before the first stretch */
	double lag_s;   /* surfaces and exits are shown so much late: put right */
	double limit_c; /* for above_limit_s; NAN: not asked for */
	double step_s;  /* longest time step; 0: SOAK_STEP_S */
	struct soak_tolerances tolerances;
	size_t stretch_count; /* 1 to SOAK_STRETCHES; each begins where the last ends */
	struct soak_stretch stretches[SOAK_STRETCHES];
};

/* The sheet at one moment, C. */
struct soak_state {
	double core_c, mean_c;
	double quarter_top_c, quarter_bottom_c;
	double surface_top_c, surface_bottom_c;
};

/* Half of the 95 % interval of each, K. */
struct soak_band {
	double core_dc, mean_dc;
	double surface_core_dc; /* of the mean of both surfaces minus the core */
};

struct soak_result {
	struct soak_state state[SOAK_STRETCHES]; /* as each stretch ends */
	struct soak_band band[SOAK_STRETCHES];
	double above_limit_s; /* with a surface above limit_c; NAN: not asked for */
};

/*
 * The answer at the end of each stretch.  The band is the root of the sum of squares of
 * what each tolerance does to this very case: it is computed again with each of them
 * (JCGM 100:2008, 5.1, with every input at its expanded uncertainty).  The diffusivity is
 * moved both ways, and half of what lies between counts; all else up.  Where the substance
 * melts diffusivity and fusion are moved both ways and the larger counts, since a front
 * that has passed the core, or not, is no matter of proportion; and the sensitivities,
 * not the answer, are computed with half the nodes and half the parts of a step.  Where a
 * case moved up has no answer (an exit surface that then no heating reaches) it is moved
 * down; with none either there is no answer at all: a core never stands without its band.
 * Under SOAK_AIR the diffusivity is moved by the heat capacity, which slows the faces as
 * well; elsewhere by the conductivity.  Returns 0 or
 * ERROR_INVALID with the sentence: no readings in a stretch, times that do not go up,
 * a face's flux asked of a substance of which only the diffusivity is known, exit
 * surfaces that no heating reaches.
 */
int soak_compute(
    const struct soak_case *soak, struct soak_result *result, struct error *error);

/* The same without the band (all NAN), a tenth of the work or less.  `watch`, unless NULL, is
 * told every profile on the way, SOAK_NODES temperatures from top to bottom. */
struct soak_watch {
	void (*profile)(void *arg, double s, const double c[SOAK_NODES]);
	void *arg;
};
int soak_follow(const struct soak_case *soak, const struct soak_watch *watch,
    struct soak_result *result, struct error *error);

/* 1 - (mean of surfaces - core)/(mean of surfaces - start); NAN without a rise. */
double soak_index(const struct soak_state *state, double start_c);

/* diffusivity * time / (thickness / 2)^2. */
double soak_fourier(double diffusivity, double thickness_m, double s);

#endif
