/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The truth: what really happened to each frame on its way round, one row of CSV a
 * frame, written when it has left the form station.  README.md lists the columns.
 *
 * Times are steps of TRUTH_STEP_S since the start; TRUTH_NEVER is a blank.
 */
#ifndef CONTRIB_LINESIM_TRUTH_H
#define CONTRIB_LINESIM_TRUTH_H

#include <stdio.h>

#include "contrib/linesim/registers.h"
#include "daemon/base/clock.h"

#define TRUTH_STEP_S 0.1
#define TRUTH_NEVER INT64_C(-1)

enum {
	LOT_NAME_MAX = 32,
	STAYS_MAX = 8, /* of a sheet in an oven; what goes beyond is not written down */
};

/* The sheet at one moment of the heat or after it. */
struct sheet_state {
	double true_c[SHEET_FACES][PYROMETERS_A_SIDE];
	double core_c;      /* midplane under the middle pyrometer */
	double core_mean_c; /* midplane, mean of the patches */
	double mean_c;      /* of the whole sheet */
	/* Mean of the patches that pyrometers look at. */
	double core_seen_c, mean_seen_c;
};

/* The tool while the platens are closed, step by step. */
struct tool_sums {
	int64_t count;
	double c[TOOL_ZONES], min_c[TOOL_ZONES], max_c[TOOL_ZONES];
	double mean_min_c, mean_max_c; /* of the mean of the zones */
	double spread_dc, spread_start_dc;
	double return_c[TOOL_ZONES], supply_c;
};

/* Once in an oven. */
struct stay {
	int oven; /* from 0 */
	int64_t in, out;
};

struct passage {
	int64_t number; /* from 1; 0: the frame was in the machine at the start */
	int side;       /* from 0 */
	/* heat_start and heat_end: of all stays together; sagged: in the last one */
	int64_t loaded, heat_start, sagged, heat_end, form_start, form_end, left;
	int stay_count;
	struct stay stays[STAYS_MAX];
	bool short_stay;     /* one of them was too short for a sheet to be formed */
	bool reheated;       /* it went in again after it had come out, unformed */
	int64_t form_before; /* the form start of the formed sheet before it */
	bool had_sheet, scrapped, interrupted, by_timer;
	uint32_t touched; /* 1 << enum event_kind */
	char lot[LOT_NAME_MAX];
	double start_c, stack_c, thickness_m, fluidity, sag_m;
	double conductivity, emissivity; /* W/(m K); 8 to 14 um */
	struct sheet_state at_heat_end, at_form_start;
	double indicated_c[SHEET_FACES]
			  [PYROMETERS_A_SIDE]; /* at heat end, without noise */
	double stated_j[SHEET_FACES], true_j[SHEET_FACES];
	double given_j; /* what the sheet gives up in the tool, all of it */
	struct tool_sums tool;
	/* To each circuit's water from the demoulding before it to its own; NAN unknown. */
	double water_j[TOOL_ZONES];
};

void passage_init(struct passage *passage, int64_t number);

/* "complete", "empty", "scrapped", "aborted", "interrupted", "reheated",
 * "timer_release". */
const char *passage_class(const struct passage *passage);

void tool_sums_add(struct tool_sums *sums, const struct tool *tool, double supply_c);

struct truth {
	FILE *file;        /* NULL: nobody wants to know */
	struct wall start; /* of step 0 */
	/* of the sensors on the tool of each side, TOOL_ZONES of them */
	const double *tool_offset_dc[2];
	const char *sides[2]; /* their names; "" when there is but one */
};

void truth_write_header(const struct truth *truth);

/* Writes and flushes one row. */
void truth_write(const struct truth *truth, const struct passage *passage);

#endif
