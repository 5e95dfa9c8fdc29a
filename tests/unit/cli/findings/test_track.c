/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/findings.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/base/error.h"
#include "tests/unit/cli/findings/plant.h"
#include "tests/unit/seed.h"

enum { REFERENCE = 120, ROOM = 64 };

static struct line_settings line;
static struct findings_shot reference[REFERENCE];
static struct finding findings[ROOM];
static const struct effect dirt = {
    .own_dc = -5.3, .position = 3, .side = 1, .rate_bottom_ratio = -0.013};

static struct profile *
learn(struct plant *plant)
{
	struct error error;

	plant_init(plant, seed_take(1));
	plant_shots(plant, NULL, "A", reference, REFERENCE);
	struct profile *profile = profile_new(&line, reference, REFERENCE, &error);
	assert_non_null(profile);
	return profile;
}

/* However often a fault came and went before, it is one finding: the last time, and how
 * often it came. */
static void
what_comes_and_goes_is_told_once(void **state)
{
	enum { TIMES = 40, LENGTH = 12, MANY = (TIMES + 1) * 2 * LENGTH };
	static struct findings_shot many[MANY];
	struct plant plant;
	struct profile *profile = learn(&plant);
	int windows = 0;

	(void)state;
	for (int i = 0; i <= TIMES; i++) {
		plant_shots(&plant, NULL, "A", many + 2 * i * LENGTH, LENGTH);
		plant_shots(&plant, &dirt, "A", many + (2 * i + 1) * LENGTH, LENGTH);
	}
	const struct findings_run run = {many, MANY, 0, MANY};
	size_t n = findings_judge(profile, &run, findings, ROOM);
	assert_in_range(n, 1, ROOM);
	for (size_t i = 0; i < n; i++) {
		const struct finding *it = findings + i;
		if (it->cause != FINDING_WINDOW || it->position != 3 || it->side != 1)
			continue;
		windows++;
		assert_int_equal(i, 0); /* what lasts comes first */
		assert_true(it->lasting);
		assert_in_range(it->times, TIMES - 4, TIMES + 1);
		assert_in_range(it->first_shot, many[MANY - LENGTH].shot_no - 3,
		    many[MANY - LENGTH].shot_no + 3);
		assert_in_range(it->earliest_shot, many[LENGTH].shot_no - 3,
		    many[LENGTH].shot_no + 3);
		assert_int_equal(it->last_shot, many[MANY - 1].shot_no);
	}
	assert_int_equal(windows, 1);
	profile_free(profile);
}

/* Long runs are judged in a time that grows with them, not with their square. */
static void
a_long_run_forgets_nothing(void **state)
{
	enum { MANY = 8000, PIECE = 25 };
	struct findings_shot *many = calloc(MANY, sizeof *many);
	struct plant plant;
	struct profile *profile = learn(&plant);

	(void)state;
	assert_non_null(many);
	for (int i = 0; i < MANY; i += PIECE)
		plant_shots(&plant, i / PIECE % 2 ? &dirt : NULL, "A", many + i, PIECE);
	const struct findings_run run = {many, MANY, 0, MANY};
	assert_in_range(findings_judge(profile, &run, findings, ROOM), 1, ROOM);
	assert_int_equal(findings[0].cause, FINDING_WINDOW);
	assert_in_range(findings[0].times, MANY / PIECE / 2 - 4, MANY / PIECE / 2 + 1);
	profile_free(profile);
	free(many);
}

/* Of the shots around it a part is asked about: what was over before is left out. */
static void
only_what_is_asked_about_is_told(void **state)
{
	enum { PIECE = 30, MANY = 4 * PIECE };
	static struct findings_shot many[MANY];
	struct plant plant;
	struct profile *profile = learn(&plant);

	(void)state;
	for (int i = 0; i < 4; i++)
		plant_shots(
		    &plant, i == 1 ? &dirt : NULL, "A", many + i * PIECE, PIECE);
	struct findings_run run = {many, MANY, 0, MANY};
	assert_int_equal(findings_judge(profile, &run, findings, ROOM), 1);
	assert_int_equal(findings[0].times, 1);
	run.first = run.last = PIECE + 1;
	assert_int_equal(findings_judge(profile, &run, findings, ROOM), 1);
	run.last = MANY;
	run.first = 2 * PIECE + 5;
	assert_int_equal(findings_judge(profile, &run, findings, ROOM), 0);
	run.first = 0;
	run.last = PIECE - 5;
	assert_int_equal(findings_judge(profile, &run, findings, ROOM), 0);
	profile_free(profile);
}

/* One that begins slowly: no sheet that shows it is called good, and wherever the run
 * begins the same ones are. */
static void
no_deviating_shot_is_called_good(void **state)
{
	static const double parts[] = {0.35, 0.6, 1};
	enum { BEFORE = 60, AFTER = 60, MANY = BEFORE + AFTER };
	static struct findings_shot many[MANY];
	struct plant plant;
	struct profile *profile = learn(&plant);

	(void)state;
	for (int i = 0; i < MANY; i++)
		many[i] = plant_shot(&plant, &dirt,
		    i < BEFORE       ? 0
		    : i < BEFORE + 3 ? parts[i - BEFORE]
				     : 1,
		    "A");
	for (size_t from = 0; from <= BEFORE - 20; from += 20)
		for (size_t count = BEFORE + 5; count <= MANY; count += 5) {
			const struct findings_run run = {
			    many + from, count - from, 0, count};
			assert_true(findings_judge(profile, &run, findings, ROOM) > 0);
			assert_int_equal(findings[0].cause, FINDING_WINDOW);
			assert_true(findings[0].last_good < many[BEFORE].shot_no);
			assert_in_range(findings[0].first_shot,
			    many[BEFORE].shot_no - 3, many[BEFORE].shot_no);
		}
	profile_free(profile);
}

/* Dirt that grows and is wiped off: over, and told once. */
static void
a_cleaned_window_is_over(void **state)
{
	enum { BEFORE = 40, AFTER = 60, CLEAN = 30, MANY = BEFORE + AFTER + CLEAN };
	static struct findings_shot many[MANY];
	struct plant plant;
	struct profile *profile = learn(&plant);

	(void)state;
	for (int i = 0; i < MANY; i++) {
		bool dirty = i >= BEFORE && i < BEFORE + AFTER;
		many[i] = plant_shot(
		    &plant, &dirt, dirty ? (i - BEFORE + 1.0) / AFTER : 0, "A");
	}
	const struct findings_run run = {many, MANY, 0, MANY};
	assert_int_equal(findings_judge(profile, &run, findings, ROOM), 1);
	assert_int_equal(findings[0].cause, FINDING_WINDOW);
	assert_false(findings[0].lasting);
	assert_in_range(findings[0].last_shot, many[BEFORE + AFTER - 1].shot_no - 2,
	    many[BEFORE + AFTER - 1].shot_no + 2);
	profile_free(profile);
}

/* Heat that a blocked circuit leaves goes into the circuits beside it: no fault of
 * theirs. */
static void
the_neighbours_of_a_blocked_circuit_are_no_findings(void **state)
{
	enum { BEFORE = 40, AFTER = 60, MANY = BEFORE + AFTER };
	static struct findings_shot many[MANY];
	const struct effect block = {.position = 2,
	    .own_flow_ratio = -0.65,
	    .own_rise_dc = 1.6,
	    .own_tool_dc = 1.8,
	    .own_heat_ratio = -0.1,
	    .own_resistance_ratio = 0.8};

	(void)state;
	for (int over = 1; over <= 41; over += 40) {
		struct plant plant;
		struct profile *profile = learn(&plant);
		for (int i = 0; i < MANY; i++) {
			double part =
			    i < BEFORE ? 0 : fmin(1, (i - BEFORE + 1.0) / over);
			many[i] = plant_shot(&plant, &block, part, "A");
			for (int k = 0; k <= 2; k += 2) {
				double *value = many[i].value + k;
				value[FEATURE_TOOL_MEAN_FIRST] += 0.6 * part;
				value[FEATURE_WATER_RISE_FIRST] += 0.4 * part;
				value[FEATURE_HEAT_REMOVED_FIRST] *= 1 + 0.2 * part;
			}
		}
		const struct findings_run run = {many, MANY, 0, MANY};
		size_t n = findings_judge(profile, &run, findings, ROOM);
		assert_true(n > 0);
		assert_int_equal(findings[0].cause, FINDING_BLOCKED_CIRCUIT);
		for (size_t i = 1; i < n; i++)
			fail_msg("%s at %d is told too, in %d shots",
			    finding_cause_text(findings[i].cause), findings[i].position,
			    over);
		profile_free(profile);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_comes_and_goes_is_told_once),
	    cmocka_unit_test(a_long_run_forgets_nothing),
	    cmocka_unit_test(only_what_is_asked_about_is_told),
	    cmocka_unit_test(no_deviating_shot_is_called_good),
	    cmocka_unit_test(a_cleaned_window_is_over),
	    cmocka_unit_test(the_neighbours_of_a_blocked_circuit_are_no_findings),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
