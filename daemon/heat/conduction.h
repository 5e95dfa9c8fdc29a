/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One step of conduction through a sheet.
 *
 * Nodes at even distances, the first and the last on the faces with half a cell each.  A
 * step balances every cell's enthalpy, so that no heat is lost or made:
 *
 *   rho dx (h(T) - h(T before)) / dt = w F(T) + (1 - w) F(T before)
 *
 * F being what flows in, with the conductivity at the mean temperature of neighbours.
 * w is 1/2 (Crank-Nicolson: second order in time; rings after a jump) or 1 (backward
 * Euler: first order, never rings).  It is solved by Newton's passes in h and in the
 * faces' exchange; the conductivity is that of the pass before (Picard): a tridiagonal
 * system a pass (Thomas).  With constant properties and faces that are linear one pass is
 * exact; else passes go on until none moves a node by more than CONDUCTION_DONE_DC, or
 * CONDUCTION_PASSES were made.  Pure; any thread; allocates nothing.
 */
#ifndef DAEMON_HEAT_CONDUCTION_H
#define DAEMON_HEAT_CONDUCTION_H

#include <stdbool.h>

struct substance;

enum { CONDUCTION_NODES = 161, CONDUCTION_PASSES = 40 };
#define CONDUCTION_DONE_DC 1e-6

enum conduction_face_kind {
	FACE_TEMPERATURE, /* from_, to_: C */
	FACE_FLUX,        /* W/m2 into the sheet */
	FACE_EXCHANGE,    /* C of the surroundings */
};

/* What holds at a face as a step begins and as it ends. */
struct conduction_face {
	enum conduction_face_kind kind;
	double from, to;
	double w_m2k;      /* FACE_EXCHANGE: convection */
	double emissivity; /* FACE_EXCHANGE: radiation; 0: none */
};

struct conduction {
	const struct substance *substance; /* lent */
	double conductivity_scale;         /* on top of the substance's own */
	double node_m;
	int nodes; /* 3 to CONDUCTION_NODES */
	double c[CONDUCTION_NODES];
	int passes; /* of Newton's, in all steps so far */
};

void conduction_init(struct conduction *conduction, const struct substance *substance,
    double thickness_m, int nodes, double start_c);

/* `damped`: backward Euler, for a material that melts and after a jump. */
void conduction_step(struct conduction *conduction,
    const struct conduction_face faces[2], double step_s, bool damped);

double conduction_mean_c(const struct conduction *conduction);
double conduction_enthalpy(const struct conduction *conduction); /* J/m2 above 23 C */

#endif
