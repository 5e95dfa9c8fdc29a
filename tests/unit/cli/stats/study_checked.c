/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/stats/study_checked.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>

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
	switch (study->verdict) {
	case STUDY_CAPABLE:
		assert_true((study->reasons & ~remarks) == 0);
		assert_true(study->ppk.quotable);
		assert_true(study->ppk.lower_bound >= study->required);
		break;
	case STUDY_NOT_CAPABLE:
		if (study->reasons & STUDY_BIT(STUDY_BEYOND)) {
			assert_false(study->ppk.quotable);
			assert_true(study->c.below + study->c.above > 0);
			break;
		}
		assert_true((study->reasons & STUDY_BIT(STUDY_INDEX_BELOW)) != 0);
		assert_true(study->ppk.quotable);
		break;
	case STUDY_NOT_ESTABLISHED:
		assert_true((study->reasons & ~remarks) > 0);
		break;
	}
	const double finite_or_none[] = {study->ppk.value, study->ppk.low,
	    study->ppk.high, study->ppk.lower_bound, study->cpk.value, study->cpk.low,
	    study->cpk.high, study->cpk.lower_bound, study->pp, study->ppl, study->ppu,
	    study->cp, study->cpl, study->cpu, study->cpm, study->pp_95.low,
	    study->pp_95.high, study->cp_95.low, study->cp_95.high,
	    study->expected_below, study->expected_above, study->observed_most,
	    study->sigma_within, study->step, study->ppk_without_outliers,
	    study->needed, study->ewma.last, study->cusum.high_last,
	    study->onset.explained};
	for (size_t i = 0; i < LENGTH(finite_or_none); i++)
		if (isinf(finite_or_none[i]))
			fail_msg("figure %zu of a study of %zu is infinite", i,
			    study->described.n);
	if (isfinite(study->ppk.low))
		assert_true(study->ppk.low <= study->ppk.lower_bound + 1e-9 &&
			    study->ppk.lower_bound <= study->ppk.high);
}
