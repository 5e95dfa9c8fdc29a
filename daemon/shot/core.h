/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A sheet's heating as a case for the conduction through its thickness: a stretch for each
 * stay in an oven, and one for each way between them and to the form.
 *
 * Where an oven has pyrometers the sheet's faces are what they show; where it has none but
 * the air's temperature, the air heats it; where the pyrometers see it only as it leaves,
 * the faces are known then.  Pure; allocates nothing.
 */
#ifndef DAEMON_SHOT_CORE_H
#define DAEMON_SHOT_CORE_H

#include "daemon/heat/soak.h"
#include "daemon/heat/substance.h"
#include "daemon/shot/features.h"

/* Points of one course over the whole heat: one of more seconds is thinned, and computed in
 * longer steps.  Seen at the exit alone it is a smooth way, tried several times over, and
 * takes fewer steps. */
enum {
	CORE_POINTS = 400,
	CORE_EXIT_STEPS = 100,
	CORE_ROOM = CORE_POINTS + 3 * SHEET_STAYS_MAX,
};

struct core {
	struct soak_case soak;
	struct substance substance;
	const struct material_settings *material; /* lent by the settings */
	size_t heat_end; /* the stretch that ends with the heat */
	bool formed;     /* the last one ends as the platens close */
	/* Pyrometers of each side that it is computed from, the fewest of all stays; -1: no
	 * oven that the sheet was in has any there. */
	int pyrometers[2];
	/* What the histories lend. */
	size_t used[2];
	double s[2][CORE_ROOM], c[2][CORE_ROOM];
};

/* Temperature of the surroundings on the way where nothing measures it. */
#define CORE_AIR_C 25.0

/* How much the side of a sheet that no pyrometer sees may differ from the other: half of a
 * 95 % interval; common practice, no source. */
#define CORE_SIDE_DC 15.0

/* Where a stack sensor's reading as the sheet goes in is missing, its last one within this
 * before (and since the sheet was loaded), or the first within that after, tells as much of a
 * stack of sheets; a start that is only the line's is known so many times worse, and to so
 * much at the best.  All: common practice, no source. */
#define CORE_STACK_BEFORE_S 600.0
#define CORE_STACK_AFTER_S 60.0
#define CORE_START_TIMES 2.5
#define CORE_START_LEAST_DC 5.0

/* The thickness that a sheet is computed with: its lot's as measured, else the recipe's; NAN
 * when neither is told. */
double core_thickness_m(const struct feature_source *source);

/*
 * Fills `core`, or returns why there is none: not_configured when material figures,
 * thickness, start temperature or the sensors of an oven are not there; not_applicable for
 * an empty frame or a way that was not seen; else what the readings say.
 * `shot` has its stack and ambient temperature already.
 */
enum absent core_make(
    const struct feature_source *source, const struct shot *shot, struct core *core);

#endif
