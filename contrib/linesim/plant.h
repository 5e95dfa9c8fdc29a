/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The whole invented plant: machine, ovens, sheets, tools, sensors and registers,
 * stepped together by TRUTH_STEP_S.  The same seed, start and script give the same
 * plant at every step, whoever reads the registers meanwhile and however fast.
 *
 * One object belongs to one thread.  It reads no clock.
 */
#ifndef CONTRIB_LINESIM_PLANT_H
#define CONTRIB_LINESIM_PLANT_H

#include "contrib/linesim/effects.h"
#include "contrib/linesim/machine.h"
#include "contrib/linesim/sensor.h"
#include "contrib/linesim/surroundings.h"

struct plant {
	struct machine machine;
	struct oven ovens[OVENS_MAX]; /* those of the machine's kind */
	struct tool tools[SIDES_MAX]; /* one a side */
	double vacuum_mbar[SIDES_MAX];
	struct sensors sensors;
	struct surroundings surroundings;
	struct registers registers;
	struct script script;
	struct effects effects;
	struct truth truth;
	struct random random; /* of what differs from sheet to sheet */
	struct {
		char name[LOT_NAME_MAX];
		double melt_flow, thickness, conductivity; /* factors of the usual */
		double emissivity;
	} lot;
	int64_t frames_left; /* rows of the truth so far */
	/* What each side's tool had given to its water as a part was last taken off it;
	 * NAN: none was yet. */
	double water_before_j[SIDES_MAX][TOOL_ZONES];
};

struct plant_setup {
	const struct machine_kind *kind;
	uint64_t seed;
	struct wall start;
	bool cold_start;
	FILE *truth;                 /* may be NULL; stays the caller's */
	const struct script *script; /* may be NULL; copied */
};

/* The caller owns it: plant_free().  NULL when memory is short. */
struct plant *plant_new(const struct plant_setup *setup);
void plant_free(struct plant *plant);

/* One step, and the registers show it. */
void plant_step(struct plant *plant);

/* The two by themselves, for who does not look at every step: the truth is the same, the
 * noise of the readings another. */
void plant_advance(struct plant *plant);
void plant_show(struct plant *plant);

#endif
