/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/heat/conduction.h"

#include <assert.h>
#include <math.h>

#include "daemon/heat/substance.h"

#define STEFAN_BOLTZMANN 5.670374419e-8 /* W/(m2 K4): CODATA 2018, exact in the SI */
#define ZERO_C_K 273.15

enum { CAREFUL_PASSES = 12 }; /* after so many, half of a pass is taken */

/* What a step works with: the cells' balance and the system to be solved. */
struct work {
	double step_s, weight;
	double *old_heat;   /* J/kg before */
	double *old_inflow; /* W/m2 before */
	double *residual, *over, *diagonal;
	double *conductance; /* W/(m2 K) between node i and i + 1 */
};

void
conduction_init(struct conduction *conduction, const struct substance *substance,
    double thickness_m, int nodes, double start_c)
{
	assert(nodes >= 3 && nodes <= CONDUCTION_NODES && thickness_m > 0);
	conduction->substance = substance;
	conduction->conductivity_scale = 1;
	conduction->node_m = thickness_m / (nodes - 1);
	conduction->nodes = nodes;
	conduction->passes = 0;
	for (int i = 0; i < nodes; i++)
		conduction->c[i] = start_c;
}

/* What flows into the sheet, and by how much less the warmer the face is. */
static double
face_flux(const struct conduction_face *face, double at, double c, double *slope)
{
	double k = c + ZERO_C_K, around = at + ZERO_C_K;
	double radiant = face->emissivity * STEFAN_BOLTZMANN;

	*slope = 0;
	if (face->kind == FACE_FLUX)
		return at;
	*slope = face->w_m2k + 4 * radiant * k * k * k;
	return face->w_m2k * (at - c) +
	       radiant * (around * around * around * around - k * k * k * k);
}

static void
find_conductance(const struct conduction *conduction, double *conductance)
{
	const struct substance *substance = conduction->substance;
	double scale = conduction->conductivity_scale / conduction->node_m;
	int last = conduction->nodes - 1;

	if (substance->constant) {
		double same = scale * substance_conductivity(substance, 0);

		for (int i = 0; i < last; i++)
			conductance[i] = same;
		return;
	}
	for (int i = 0; i < last; i++)
		conductance[i] =
		    scale * substance_conductivity(substance,
				(conduction->c[i] + conduction->c[i + 1]) / 2);
}

/* Into each cell from its neighbours. */
static void
find_inflow(
    const struct conduction *conduction, const double *conductance, double *inflow)
{
	const double *c = conduction->c;
	int last = conduction->nodes - 1;
	double flow = 0;

	for (int i = 0; i < last; i++) {
		double next = conductance[i] * (c[i + 1] - c[i]);

		inflow[i] = next - flow;
		flow = next;
	}
	inflow[last] = -flow;
}

/* Heat over time that a cell holds for each kelvin, but for the heat capacity. */
static double
cell(const struct conduction *conduction, const struct work *work, int i)
{
	double whole =
	    conduction->substance->density * conduction->node_m / work->step_s;

	return i == 0 || i == conduction->nodes - 1 ? whole / 2 : whole;
}

/* The state before the step, faces included. */
static void
begin(const struct conduction *conduction, const struct conduction_face faces[2],
    const struct work *work)
{
	int last = conduction->nodes - 1;
	double slope;

	for (int i = 0; i <= last; i++)
		work->old_heat[i] =
		    substance_heat(conduction->substance, conduction->c[i], &slope);
	find_conductance(conduction, work->conductance);
	find_inflow(conduction, work->conductance, work->old_inflow);
	for (int side = 0; side < 2; side++)
		if (faces[side].kind != FACE_TEMPERATURE) {
			int i = side ? last : 0;

			work->old_inflow[i] += face_flux(
			    &faces[side], faces[side].from, conduction->c[i], &slope);
		}
}

/* A measured face is where it is: its row says that it does not move. */
static void
set_face(const struct conduction *conduction, const struct conduction_face *face, int i,
    const struct work *work)
{
	double slope, flux;

	if (face->kind == FACE_TEMPERATURE) {
		work->residual[i] = 0;
		work->over[i] = 0;
		work->diagonal[i] = 1;
		return;
	}
	flux = face_flux(face, face->to, conduction->c[i], &slope);
	work->residual[i] -= work->weight * flux;
	work->diagonal[i] += work->weight * slope;
}

/* The system for the moves of the nodes: diagonal, what couples node i to i + 1 (with a
 * minus, the same both ways but at a measured face), and the residual. */
static void
linearise(const struct conduction *conduction, const struct conduction_face faces[2],
    const struct work *work)
{
	int last = conduction->nodes - 1;
	double w = work->weight;

	find_conductance(conduction, work->conductance);
	find_inflow(conduction, work->conductance, work->residual);
	for (int i = 0; i <= last; i++) {
		double slope, mass = cell(conduction, work, i);
		double heat =
		    substance_heat(conduction->substance, conduction->c[i], &slope);
		double left = i > 0 ? work->conductance[i - 1] : 0;
		double right = i < last ? work->conductance[i] : 0;

		work->residual[i] = mass * (heat - work->old_heat[i]) -
		                    w * work->residual[i] -
		                    (1 - w) * work->old_inflow[i];
		work->diagonal[i] = mass * slope + w * (left + right);
		work->over[i] = w * right;
	}
	set_face(conduction, &faces[0], 0, work);
	set_face(conduction, &faces[1], last, work);
}

/* Thomas' elimination; moves the nodes and returns the longest move. */
static double
solve(struct conduction *conduction, const struct conduction_face faces[2],
    const struct work *work, double share)
{
	int last = conduction->nodes - 1;
	double *rest = work->residual, *over = work->over, most = 0, move = 0;
	double w = work->weight;

	rest[0] /= work->diagonal[0];
	over[0] /= work->diagonal[0];
	for (int i = 1; i <= last; i++) {
		bool measured = i == last && faces[1].kind == FACE_TEMPERATURE;
		double under = measured ? 0 : w * work->conductance[i - 1];
		double pivot = 1 / (work->diagonal[i] - under * over[i - 1]);

		rest[i] = (rest[i] + under * rest[i - 1]) * pivot;
		over[i] *= pivot;
	}
	for (int i = last; i >= 0; i--) {
		move = rest[i] + over[i] * move;
		conduction->c[i] -= share * move;
		if (fabs(move) > most)
			most = fabs(move);
	}
	return most;
}

void
conduction_step(struct conduction *conduction, const struct conduction_face faces[2],
    double step_s, bool damped)
{
	double old_heat[CONDUCTION_NODES], old_inflow[CONDUCTION_NODES];
	double residual[CONDUCTION_NODES], over[CONDUCTION_NODES];
	double diagonal[CONDUCTION_NODES], conductance[CONDUCTION_NODES];
	struct work work = {step_s, damped ? 1 : 0.5, old_heat, old_inflow, residual,
	    over, diagonal, conductance};
	bool linear = conduction->substance->constant;

	begin(conduction, faces, &work);
	for (int side = 0; side < 2; side++) {
		if (faces[side].kind == FACE_TEMPERATURE)
			conduction->c[side ? conduction->nodes - 1 : 0] =
			    faces[side].to;
		linear = linear && !(faces[side].kind == FACE_EXCHANGE &&
				       faces[side].emissivity > 0);
	}
	for (int pass = 0; pass < CONDUCTION_PASSES; pass++) {
		double share = pass < CAREFUL_PASSES ? 1 : 0.5, most;

		linearise(conduction, faces, &work);
		most = solve(conduction, faces, &work, share);
		conduction->passes++;
		if (linear || most < CONDUCTION_DONE_DC)
			break;
	}
}

double
conduction_mean_c(const struct conduction *conduction)
{
	int last = conduction->nodes - 1;
	double sum = (conduction->c[0] + conduction->c[last]) / 2;

	for (int i = 1; i < last; i++)
		sum += conduction->c[i];
	return sum / last;
}

double
conduction_enthalpy(const struct conduction *conduction)
{
	int last = conduction->nodes - 1;
	double sum = 0;

	for (int i = 0; i <= last; i++)
		sum += (i == 0 || i == last ? 0.5 : 1) *
		       substance_enthalpy(conduction->substance, conduction->c[i]);
	return sum * conduction->substance->density * conduction->node_m;
}
