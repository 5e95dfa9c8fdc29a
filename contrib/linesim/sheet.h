/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A sheet of ABS-like plastic: 24 patches, each conducting through its thickness
 * only (in the plane it is negligible: thickness over zone pitch squared is 0.002),
 * and the sag of the whole.  The equations stand in README.md.
 *
 * The explicit scheme is stable while step_s <= SHEET_STEP_MAX_S (a mesh number of
 * 0.4 at three quarters of the usual thickness).
 */
#ifndef CONTRIB_LINESIM_SHEET_H
#define CONTRIB_LINESIM_SHEET_H

#include <stdbool.h>

enum {
	SHEET_ROWS = 4,
	SHEET_COLUMNS = 6,
	SHEET_PATCHES = SHEET_ROWS * SHEET_COLUMNS,
	SHEET_NODES = 15, /* both faces among them; odd: one is the midplane */
	SHEET_FACES = 2,  /* 0 top, 1 bottom */
};

#define SHEET_LENGTH_M 1.8
#define SHEET_WIDTH_M 1.2
#define SHEET_THICKNESS_M 6.35e-3
#define SHEET_CONDUCTIVITY 0.18    /* W/(m K) */
#define SHEET_DENSITY 1050.0       /* kg/m3 */
#define SHEET_HEAT_CAPACITY 2050.0 /* J/(kg K) */
#define SHEET_EMISSIVITY 0.94
#define SHEET_SAG_TRIP_M 0.10
#define SHEET_STEP_MAX_S 0.5

struct sheet {
	double c[SHEET_PATCHES][SHEET_NODES]; /* from the top face to the bottom face */
	double thickness_m;
	double fluidity;     /* melt flow relative to the reference lot */
	double conductivity; /* W/(m K) */
	double emissivity;   /* to the pyrometers and in free air */
	double sag_m;
};

/* Of the usual conductivity and emissivity. */
void sheet_init(
    struct sheet *sheet, double start_c, double thickness_m, double fluidity);

/* One step with what flows into each patch of each face, W/m2. */
void sheet_conduct(
    struct sheet *sheet, double flux[SHEET_FACES][SHEET_PATCHES], double step_s);

/* Lets it sag for one step at its present temperatures. */
void sheet_sink(struct sheet *sheet, double step_s);

/* Still or moving in free air: convection and radiation from both faces, one step. */
void sheet_cool(struct sheet *sheet, double air_c, double step_s);

double sheet_surface_c(const struct sheet *sheet, int face, int patch);
double sheet_core_c(const struct sheet *sheet, int patch);
double sheet_core_mean_c(const struct sheet *sheet);
double sheet_mean_c(const struct sheet *sheet);
double sheet_patch_mean_c(const struct sheet *sheet, int patch);

/* What it gives up in cooling evenly to `end_c`, J. */
double sheet_heat_above_j(const struct sheet *sheet, double end_c);

#endif
