/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/stats/study_checked.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <string.h>

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

struct study_asked
study_usual(const double *values, size_t count, double lower, double upper)
{
	return (struct study_asked){
	    .series = {.values = values, .count = count},
	    .lower = lower,
	    .upper = upper,
	    .target = NAN,
	    .centre = NAN,
	    .sigma = NAN,
	    .rules = RULES_USUAL,
	    .required = NAN,
	};
}

struct study *
study_of(const double *values, size_t count, double lower, double upper)
{
	struct study_asked asked = study_usual(values, count, lower, upper);
	struct study *study = study_new(&asked);

	assert_non_null(study);
	return study;
}

/*
 * Every double of a study, and whatever will be added to it: no pointer, count or enum has the
 * bits of an infinity.
 */
static void
assert_nothing_infinite(const struct study *study)
{
	for (size_t at = 0; at + sizeof(double) <= sizeof(*study);
	     at += sizeof(double)) {
		double value;
		memcpy(&value, (const char *)study + at, sizeof(value));
		if (isinf(value))
			fail_msg("what a study of %zu values has at %zu is infinite",
			    study->described.n, at);
	}
	for (size_t i = 0; i < study->described.n; i++)
		assert_true(isfinite(study->sorted[i]));
}

void
study_check(const struct study *study)
{
	const unsigned remarks = STUDY_BIT(STUDY_NOT_NORMAL);

	assert_true(study->ppk.quotable ==
		    (study->ppk.reasons == 0 && isfinite(study->ppk.value)));
	assert_true(study->cpk.quotable ==
		    (study->cpk.reasons == 0 && isfinite(study->cpk.value)));
	if (study->cpk.quotable)
		assert_true(study->ppk.quotable);
	const struct study_shown shown = study_shown(study);
	switch (study->verdict) {
	case STUDY_CAPABLE:
		assert_true((study->reasons & ~remarks) == 0);
		assert_true(shown.quotable && shown.least >= study->required);
		assert_int_equal(study->stability.verdict, STABILITY_STABLE);
		break;
	case STUDY_NOT_CAPABLE:
		if (study->reasons & STUDY_BIT(STUDY_BEYOND)) {
			assert_true(study->c.below + study->c.above > 0);
			break;
		}
		assert_true((study->reasons & STUDY_BIT(STUDY_INDEX_BELOW)) != 0);
		assert_true(shown.quotable && shown.most < study->required);
		break;
	case STUDY_NOT_ESTABLISHED:
		assert_true((study->reasons & ~remarks) > 0);
		break;
	}
	/* what decides is that of a normal distribution only where it may be one */
	if (study->reasons & STUDY_BIT(STUDY_NOT_NORMAL))
		assert_true(shown.by_fit);
	else if (!study->zero_bounded)
		assert_false(shown.by_fit);
	assert_true(isnan(study_distribution(study).parameters[0]) ||
		    !(study->reasons & STUDY_BIT(STUDY_NOTHING_FITS)));
	assert_nothing_infinite(study);
	if (isfinite(study->ppk.low))
		assert_true(study->ppk.low <= study->ppk.lower_bound + 1e-9 &&
			    study->ppk.lower_bound <= study->ppk.high);
	assert_false(study->ppk.upper_bound < study->ppk.lower_bound);
}
