/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/wording/study_words.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cli/wording/verdict.h"

enum { MOST = 200 };

/* A study of normal values about `mean` with deviation 0.7. */
static struct study *
study_of(size_t n, double mean, double lower, double upper)
{
	static double values[MOST];
	unsigned short seed[3] = {1, 2, 5};

	for (size_t i = 0; i < n; i++) {
		double sum = -6;
		for (int k = 0; k < 12; k++)
			sum += erand48(seed);
		values[i] = mean + 0.7 * sum;
	}
	const struct study_asked asked = {
	    .series = {values, NULL, n},
	    .lower = lower,
	    .upper = upper,
	    .target = NAN,
	    .centre = NAN,
	    .sigma = NAN,
	    .rules = RULES_USUAL,
	    .required = NAN,
	};
	struct study *study = study_new(&asked);

	assert_non_null(study);
	return study;
}

static void
expect_why(struct study *study, const char *verdict, const char *part)
{
	char why[STUDY_WORDS];

	study_words_why(study, why);
	if (strcmp(study_words_verdict(study->verdict), verdict) != 0 ||
	    !strstr(why, part))
		fail_msg("'%s: %s' has no '%s: %s'",
		    study_words_verdict(study->verdict), why, verdict, part);
	study_free(study);
}

static void
each_verdict_says_what_it_rests_on(void **state)
{
	(void)state;
	expect_why(study_of(12, 10, 0, 20), "not established",
	    "too few values: 12, at least 25 are needed");
	expect_why(study_of(60, 10, NAN, NAN), "not established", "it has no limits");
	expect_why(
	    study_of(60, 10, 9, 11), "not capable", "are more than a Ppk of 1.33");
	expect_why(study_of(200, 10, 7.6, 12.4), "not capable", "it is at most ");
	expect_why(study_of(60, 10, 20, 30), "not capable",
	    "every single value lies beyond the limits; ");
}

static void
what_is_too_few_is_what_is_counted(void **state)
{
	struct study *study = study_of(30, 10, 0, 20);
	char words[STUDY_REASON_WORDS];

	(void)state;
	study_words_reason(study, STUDY_FEW_NEIGHBOURS, words);
	assert_non_null(strstr(words, "only 29 values follow directly on another"));
	study->c.neighbours = 1;
	study_words_reason(study, STUDY_FEW_NEIGHBOURS, words);
	assert_non_null(strstr(words, "only 1 value follows directly on another"));
	study->c.neighbours = 0;
	study_words_reason(study, STUDY_FEW_NEIGHBOURS, words);
	assert_non_null(strstr(words, "no value follows directly on another"));
	study->subgroups.size = 5;
	study_words_reason(study, STUDY_FEW_SUBGROUPS, words);
	assert_string_equal(
	    words, "no complete subgroup of 5 values, at least 20 are needed");
	study->subgroups.count = 6;
	study_words_reason(study, STUDY_FEW_SUBGROUPS, words);
	assert_string_equal(
	    words, "only 6 complete subgroups of 5 values, at least 20 are needed");
	study->subgroups.count = 1;
	study_words_reason(study, STUDY_FEW_SUBGROUPS, words);
	assert_string_equal(
	    words, "only 1 complete subgroup of 5 values, at least 20 are needed");
	study_free(study);
}

static void
what_is_coarse_is_the_steps_or_the_distinct_values(void **state)
{
	struct study *study = study_of(60, 10, 0, 20);
	char words[STUDY_REASON_WORDS];

	(void)state;
	study->described.sd = 0.75;
	study->rounding = 1;
	study_words_reason(study, STUDY_COARSE, words);
	assert_string_equal(words, "the resolution is too coarse: its steps are 1.33 "
				   "deviations of all values");
	study->c.distinct = 1;
	study_words_reason(study, STUDY_COARSE, words);
	assert_string_equal(words,
	    "the resolution is too coarse: 1 distinct value inside "
	    "the limits, at least 5 are needed");
	study_free(study);
}

static void
bounds_that_hold_in_about_as_many_say_so(void **state)
{
	struct study *study = study_of(60, 10, 0, 20);
	char words[STUDY_REASON_WORDS];

	(void)state;
	study->reasons = 0;
	study->c.memory = CAPABILITY_NONE_SEEN;
	study_words_reason(study, STUDY_BOUND_BELOW, words);
	assert_non_null(strstr(words, "(95 %)"));
	assert_false(study_words_approximate(study));
	study->c.memory = CAPABILITY_WIDENED;
	study_words_reason(study, STUDY_BOUND_BELOW, words);
	assert_non_null(strstr(words, "(about 95 %)"));
	assert_true(study_words_approximate(study));
	study_free(study);
}

static void
every_reason_has_words_and_a_name(void **state)
{
	struct study *study = study_of(60, 10, 0, 20);
	char words[STUDY_REASON_WORDS];

	(void)state;
	for (int i = 0; i < STUDY_REASON_COUNT; i++) {
		study_words_reason(study, (enum study_reason)i, words);
		assert_true(strlen(words) > 10);
		assert_true(strlen(study_words_reason_name((enum study_reason)i)) > 3);
		for (int k = 0; k < i; k++)
			assert_string_not_equal(
			    study_words_reason_name((enum study_reason)i),
			    study_words_reason_name((enum study_reason)k));
	}
	study_free(study);
}

static void
reasons_of_a_set_stand_one_behind_the_other(void **state)
{
	struct study *study = study_of(12, 10, NAN, NAN);
	char words[STUDY_WORDS];

	(void)state;
	study_words_reasons(
	    study, STUDY_BIT(STUDY_NO_LIMIT) | STUDY_BIT(STUDY_TOO_FEW), words);
	assert_string_equal(words,
	    "it has no limits; too few values: 12, at least 25 are "
	    "needed");
	study_words_reasons(study, 0, words);
	assert_string_equal(words, "");
	study_words_reasons(study, (1U << STUDY_REASON_COUNT) - 1, words); /* it fits */
	assert_true(strlen(words) < STUDY_WORDS);
	study_free(study);
}

static void
an_index_that_is_not_quoted_is_no_number_for_people(void **state)
{
	const struct interval known = {1.2, 1.5}, unknown = {NAN, NAN};
	const struct study_index quoted = {.quotable = true},
				 withheld = {.reasons = STUDY_BIT(STUDY_UNSTABLE)},
				 few = {.reasons = STUDY_BIT(STUDY_TOO_FEW)},
				 spread = {.reasons = STUDY_BIT(STUDY_ZERO_BOUNDED)};
	char figure[VERDICT_FIGURE];

	(void)state;
	assert_string_equal(
	    verdict_cell(1.33, known, &quoted, figure).instead, "1.33 (1.20 to 1.50)");
	assert_string_equal(verdict_cell(1.33, unknown, &quoted, figure).instead,
	    "1.33 (too dependent)");
	assert_string_equal(
	    verdict_cell(1.33, known, &withheld, figure).instead, "withheld");
	assert_string_equal(verdict_cell(1.33, known, &few, figure).instead, "too few");
	assert_string_equal(verdict_cell(1.33, known, &spread, figure).instead, "-");
	/* machines get it all the same */
	assert_true(verdict_cell(1.33, known, &withheld, figure).number > 1.32);
	assert_int_equal(verdict_cell(NAN, known, &quoted, figure).kind, CELL_ABSENT);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_verdict_says_what_it_rests_on),
	    cmocka_unit_test(what_is_too_few_is_what_is_counted),
	    cmocka_unit_test(what_is_coarse_is_the_steps_or_the_distinct_values),
	    cmocka_unit_test(bounds_that_hold_in_about_as_many_say_so),
	    cmocka_unit_test(every_reason_has_words_and_a_name),
	    cmocka_unit_test(reasons_of_a_set_stand_one_behind_the_other),
	    cmocka_unit_test(an_index_that_is_not_quoted_is_no_number_for_people),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
