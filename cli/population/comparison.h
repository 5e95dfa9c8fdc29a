/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A feature of a run against the same of a reference run: whether its mean and its scatter
 * are shown to be what they were.  Pure: arrays in, structs out.
 */
#ifndef CLI_POPULATION_COMPARISON_H
#define CLI_POPULATION_COMPARISON_H

#include "cli/stats/equivalence.h"
#include "cli/stats/study.h"

#include <stdint.h>

struct limit_settings;

/* A difference of means that does not matter, where nobody says one: a tenth of the
 * tolerance (upper less lower limit); without two limits one deviation of the reference,
 * which is that tenth where Pp is 1.67.  A scatter is the same within half as much again. */
#define COMPARISON_SHARE 0.1
#define COMPARISON_RATIO 1.5

enum {
	COMPARISON_LEAST = 5, /* values of a run: fewer are not compared */
};

enum comparison_margin {
	MARGIN_ASKED,
	MARGIN_TOLERANCE,
	MARGIN_SCATTER,
};
/* "asked", "tolerance", "reference_scatter". */
const char *comparison_margin_text(enum comparison_margin margin);

/* "same", "different", "open". */
const char *comparison_verdict_text(enum equivalence_verdict verdict);

/* One feature of shots in the order of time; NAN: absent. */
struct comparison_values {
	const double *values;
	const int64_t
	    *shot_nos; /* what do not follow on each other are no neighbours */
	size_t count;
};

struct comparison_asked {
	int feature;
	struct comparison_values then, now;
	double lower, upper; /* in the unit of the values; NAN: none */
	double margin;       /* likewise; NAN: the usual one */
};

/* A change within the run itself, so that its mean and scatter are of no one process and more
 * such shots settle nothing: the run is unstable, a beginning is told (see onset.h), and what it
 * ended at lies beyond the margin (a scatter: beyond COMPARISON_RATIO) by more than
 * COMPARISON_BEYOND standard errors.  By simulation (test_comparison.c, runs of 150 like their
 * reference of 300, margin one deviation) that was told of none of 2000 independent runs, none of
 * 1000 of AR(1) 0.3 and 3 of 1000 of AR(1) 0.6. */
#define COMPARISON_BEYOND 3.0
struct comparison_changed {
	bool is;
	/* ONSET_NONE: it wandered off, and no beginning can be told: its last tenth lies beyond
	 * margin and COMPARISON_BEYOND deviations of the reference, which also hold where its
	 * values depend on each other; it was beyond those from `shot` on, without one between
	 * that was not. */
	enum onset_kind kind;
	int64_t shot, earliest,
	    latest; /* in which it began, and its range (95 %); 0: none */
	double before,
	    after; /* means; of ONSET_SCATTER deviations; NAN: there is none */
	/* after less the reference's mean, in its deviations; of ONSET_SCATTER the ratio to its
	 * deviation; NAN: it has none */
	double deviations;
};

struct comparison {
	int feature;
	struct description then, now;
	enum comparison_margin margin_of;
	struct equivalence equivalence; /* its `verdict` is that of the means alone */
	enum equivalence_verdict mean, scatter;
	enum equivalence_verdict both; /* the worse of them: different, then open */
	/* Where that is open: so many more shots like these would about settle it, were the
	 * means and the scatters what they are so far; dependence is counted.  INFINITY: no
	 * number would, without a longer reference run.  NAN: not open, or not known.  By
	 * simulation (runs of 60 that go on, AR(1) of 0, 0.3 and 0.6, a reference of 1000) so
	 * many settled 0.81, 0.73 and 0.69 of them, twice as long a run 0.98, 0.93, 0.85. */
	double more_shots;
	struct comparison_changed changed;
	bool unstable; /* the run is, within itself */
	double lower, upper;
	/* By the limits of today; all NAN without limits. */
	struct study_index ppk_then, ppk_now;
};

bool comparison_has_changed(const struct comparison *comparison);

/* "changed", else "same", "different", "open". */
const char *comparison_text(const struct comparison *comparison);

/* For comparison.c alone. */
struct comparison_changed comparison_changed_of(const struct comparison *comparison,
    const struct study *now, const struct comparison_values *values);

/* False when memory is short. */
bool comparison_make(
    struct comparison *comparison, const struct comparison_asked *asked);

#endif
