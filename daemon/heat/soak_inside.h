/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the files of soak share: one way through all stretches, with some of the case's
 * figures moved.
 */
#ifndef DAEMON_HEAT_SOAK_INSIDE_H
#define DAEMON_HEAT_SOAK_INSIDE_H

#include "daemon/heat/soak.h"

/* By how much the figures of a case are moved; all 0: as it is. */
struct soak_nudge {
	double thickness, diffusivity; /* ratios to be added to 1 */
	double surface_dc, gain, start_dc, lag_s, side_dc;
	double oven_air, free_air; /* ratios to be added to 1 */
	double oven_air_dc, free_air_dc;
	double flux_fall;
	double fusion; /* ratio to be added to 1, where it melts */
	bool coarse;   /* half the nodes and half the parts of a step: for what is then
	                  compared with another coarse one */
};

/* Follows a case that has been checked.  Leaves the bands alone. */
int soak_run(const struct soak_case *soak, const struct soak_nudge *nudge,
    const struct soak_watch *watch, struct soak_result *result, struct error *error);

int soak_check(const struct soak_case *soak, struct error *error);

/* Reads a history forward in time as a line through its readings within a stretch. */
struct soak_reader {
	const struct soak_history *history; /* NULL: nothing was measured */
	size_t first, last;                 /* its readings within the stretch */
	size_t at;                          /* the reading at or before the moment */
	double slope, reach_s; /* beyond the last: so steep, so far, then level */
};

/* False when there is no reading from from_s to to_s. */
bool soak_reader_init(struct soak_reader *reader, const struct soak_history *history,
    double from_s, double to_s);
double soak_reader_at(struct soak_reader *reader, double s);

#endif
