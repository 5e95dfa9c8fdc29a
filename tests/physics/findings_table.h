/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The findings of many trials, added up and printed.
 */
#ifndef TESTS_PHYSICS_FINDINGS_TABLE_H
#define TESTS_PHYSICS_FINDINGS_TABLE_H

#include "tests/physics/trial.h"

/* One fault at one strength. */
struct findings_row {
	int trials, outcomes[TRIAL_OUTCOMES];
	int others;         /* trials of TRIAL_NAMED that name something else as well */
	double shots_until; /* median of TRIAL_NAMED; NAN: none */
	double first_error; /* median of TRIAL_NAMED: shots too late */
	int wrong[FINDING_CAUSE_COUNT]; /* of TRIAL_WRONG: the foremost */
};

struct findings_row findings_row_make(
    struct trial *const *trials, int count, const struct fault *fault, int strength);

void findings_print_head(void);
void findings_print_row(
    const struct fault *fault, int strength, const struct findings_row *row);

/* What was named in `shots` healthy ones. */
void findings_print_alarms(int shots, const int alarms[static FINDING_CAUSE_COUNT]);

#endif
