/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a picture of a characteristic shows of its study: limits, the curve of the
 * distribution, and which values patterns point at.  Pure; any thread.
 */
#ifndef CLI_WORDING_STUDY_PICTURE_H
#define CLI_WORDING_STUDY_PICTURE_H

#include "cli/picture/run_picture.h"
#include "cli/stats/study.h"

enum { STUDY_CURVE = 121 };

struct study_picture {
	const struct study *study;
	/* A value in the unit that is shown, which grows with it; lent with `of`. */
	double (*shown)(const void *of, double value);
	const void *of;
	double curve_at[STUDY_CURVE], curve_density[STUDY_CURVE];
};

/*
 * Limits and target; control limits of STABILITY_LEAST values on; the curve exactly where the
 * study has a distribution.  The rest of `what` is left as it is; it lends the curve from
 * `from`.
 */
void study_picture_fill(struct study_picture *from, struct run_picture *what);

/* Takes control limits and the curve away: of values that are not of one study. */
void study_picture_strip(struct run_picture *what);

/* Whether a pattern points at value i, from 0; of a subgroup at its first value. */
bool study_picture_is_signal(const struct study *study, size_t i);

#endif
