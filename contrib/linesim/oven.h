/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The oven: 24 zones above and 24 below the sheet, each one heating element with a
 * memory of its own, and what they send to each patch of the sheet.  Its program
 * heats with the whole recipe for a while and then with a part of it.
 * The equations stand in README.md.
 */
#ifndef CONTRIB_LINESIM_OVEN_H
#define CONTRIB_LINESIM_OVEN_H

#include "contrib/linesim/sheet.h"

enum { OVEN_ZONES = SHEET_PATCHES };

#define OVEN_RATED_W 3000.0
#define OVEN_AIR_C 150.0

/* What the program asks for. */
enum oven_stage {
	OVEN_STAGE_OFF,  /* a fault */
	OVEN_STAGE_HOLD, /* a part of the recipe: also while no sheet is there */
	OVEN_STAGE_FULL, /* the recipe */
};

struct oven {
	double element_c[SHEET_FACES][OVEN_ZONES];
	double set[SHEET_FACES][OVEN_ZONES];    /* the recipe's, ratio */
	double output[SHEET_FACES][OVEN_ZONES]; /* as the registers tell it, ratio */
	double health[SHEET_FACES][OVEN_ZONES]; /* 1 sound, 0 dead */
	double forced[SHEET_FACES][OVEN_ZONES]; /* output held there; negative: no */
	double stated_w[SHEET_FACES];           /* rated power times output */
	double true_w[SHEET_FACES];             /* with mains and health */
	double energy_j;                        /* since the start, both sides, true */
	double incident[SHEET_FACES][SHEET_PATCHES]; /* K^4, weighted by the kernel */
	double kernel[SHEET_PATCHES][OVEN_ZONES];
	double seen[SHEET_PATCHES]; /* sum of the kernel over the zones */
	double air_c;               /* OVEN_AIR_C, unless there is a draught */
};

/* Set to `share` of the recipe.  Hot: as after an hour of waiting with OVEN_STAGE_HOLD. */
void oven_init(struct oven *oven, double share, bool hot);

/* mains: voltage over nominal. */
void oven_step(struct oven *oven, enum oven_stage stage, double mains, double step_s);

/* Heats the sheet for one step by what the elements send now. */
void oven_heat(const struct oven *oven, struct sheet *sheet, double step_s);

#endif
