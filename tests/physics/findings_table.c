/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/physics/findings_table.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { TRIALS_MAX = 1000 };

static int
compare(const void *a, const void *b)
{
	double left = *(const double *)a, right = *(const double *)b;

	return (left > right) - (left < right);
}

static double
median(double *values, int count)
{
	if (count == 0)
		return NAN;
	qsort(values, (size_t)count, sizeof values[0], compare);
	return (values[(count - 1) / 2] + values[count / 2]) / 2;
}

struct findings_row
findings_row_make(
    struct trial *const *trials, int count, const struct fault *fault, int strength)
{
	double until[TRIALS_MAX], error[TRIALS_MAX];
	struct findings_row row = {.trials = count};
	int named = 0;

	assert(count <= TRIALS_MAX);
	for (int i = 0; i < count; i++) {
		struct trial_result result = trial_fault(trials[i], fault, strength);

		row.outcomes[result.outcome]++;
		if (result.outcome == TRIAL_WRONG)
			row.wrong[result.wrong]++;
		if (result.outcome != TRIAL_NAMED)
			continue;
		row.others += result.others > 0;
		until[named] = result.shots_until;
		error[named++] = (double)result.first_error;
	}
	row.shots_until = median(until, named);
	row.first_error = median(error, named);
	return row;
}

void
findings_print_head(void)
{
	printf("%-32s %-9s %6s %6s %6s %6s %6s  %6s %6s  %s\n", "fault", "strength",
	    "named", "+other", "disagr", "wrong", "missed", "shots", "first",
	    "named wrongly");
}

void
findings_print_row(
    const struct fault *fault, int strength, const struct findings_row *row)
{
	printf("%-32s %-9s %6d %6d %6d %6d %6d  %6.4g %6.4g  ", fault->name,
	    fault->strength[strength], row->outcomes[TRIAL_NAMED], row->others,
	    row->outcomes[TRIAL_DISAGREES], row->outcomes[TRIAL_WRONG],
	    row->outcomes[TRIAL_MISSED], row->shots_until, row->first_error);
	for (int cause = 0; cause < FINDING_CAUSE_COUNT; cause++)
		if (row->wrong[cause] > 0)
			printf("%s %d ", finding_cause_text((enum finding_cause)cause),
			    row->wrong[cause]);
	printf("\n");
	fflush(stdout);
}

void
findings_print_alarms(int shots, const int alarms[static FINDING_CAUSE_COUNT])
{
	int named = 0;

	for (int cause = 0; cause < FINDING_CAUSE_COUNT; cause++)
		named += cause == FINDING_DISAGREES ? 0 : alarms[cause];
	printf("%d healthy shots: %d causes named, %d figures disagree", shots, named,
	    alarms[FINDING_DISAGREES]);
	for (int cause = 0; cause < FINDING_CAUSE_COUNT; cause++)
		if (cause != FINDING_DISAGREES && alarms[cause] > 0)
			printf("; %s %d", finding_cause_text((enum finding_cause)cause),
			    alarms[cause]);
	printf("\n");
}
