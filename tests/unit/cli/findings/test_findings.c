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

enum {
	REFERENCE = 120,
	BEFORE = 40,
	AFTER = 60,
	RUN = BEFORE + AFTER,
	SEEDS = 6,
	ROOM = 64
};

static struct line_settings line;
static unsigned seed_first;
static struct findings_shot reference[REFERENCE], run[400];
static struct finding findings[ROOM];

/* A cause, and what it does: see plant.h on where that is from. */
struct wanted {
	enum finding_cause cause;
	int position, side;
	bool up, lot;
	struct effect effect;
};

static const struct wanted wanted[] = {
    {FINDING_DEAD_ZONE, 2, 0, true, false,
	{.own_dc = -20,
	    .pair_dc = -5,
	    .position = 2,
	    .meter_ratio = -0.021,
	    .sag_ratio = 0.012,
	    .rate_top_ratio = -0.02}},
    {FINDING_WINDOW, 3, 1, true, false,
	{.own_dc = -5.3, .position = 3, .side = 1, .rate_bottom_ratio = -0.013}},
    {FINDING_ELEMENTS, 0, -1, true, false, {.meter_ratio = -0.042, .sag_ratio = 0.015}},
    {FINDING_EMISSIVITY, 0, -1, false, true,
	{.exit_top_dc = -5,
	    .exit_bottom_dc = -5,
	    .rate_top_ratio = -0.06,
	    .rate_bottom_ratio = -0.06}},
    {FINDING_LOT, 0, -1, true, true, {.exit_top_dc = -2, .exit_bottom_dc = -2}},
    {FINDING_LOT, 0, -1, false, true, {.exit_top_dc = 2, .exit_bottom_dc = 2}},
    {FINDING_EMISSIVITY, 0, 0, false, true,
	{.exit_top_dc = -5, .rate_top_ratio = -0.06}},
    {FINDING_LOT_FLOW, 0, -1, true, true,
	{.sag_ratio = -0.02,
	    .exit_top_dc = -1.6,
	    .exit_bottom_dc = -1.6,
	    .core_dc = -2}},
    {FINDING_LOT_FLOW, 0, -1, false, true,
	{.sag_ratio = 0.02, .exit_top_dc = 1.6, .exit_bottom_dc = 1.6, .core_dc = 2}},
    {FINDING_LOT_THICKNESS, 0, -1, true, true,
	{.sag_ratio = 0.05,
	    .rate_top_ratio = -0.025,
	    .rate_bottom_ratio = -0.025,
	    .core_dc = 1.5}},
    {FINDING_COLD_STACK, 0, -1, false, false, {.stack_dc = -10}},
    {FINDING_MAINS, 0, -1, false, false,
	{.meter_ratio = -0.1,
	    .sag_ratio = 0.075,
	    .rate_top_ratio = -0.08,
	    .rate_bottom_ratio = -0.08,
	    .exit_top_dc = -5,
	    .exit_bottom_dc = -5}},
    {FINDING_DRAUGHT, 0, -1, true, false,
	{.sag_ratio = 0.04,
	    .exit_top_dc = -2.7,
	    .exit_bottom_dc = -2.7,
	    .rate_top_ratio = -0.033,
	    .rate_bottom_ratio = -0.033}},
    {FINDING_BLOCKED_CIRCUIT, 2, -1, true, false,
	{.position = 2,
	    .own_flow_ratio = -0.5,
	    .own_rise_dc = 1.2,
	    .own_tool_dc = 1.4,
	    .own_heat_ratio = -0.1,
	    .own_resistance_ratio = 0.5}},
    {FINDING_CLOSED_CIRCUIT, 4, -1, true, false,
	{.position = 4,
	    .own_flow_ratio = -0.98,
	    .own_rise_dc = -1,
	    .own_tool_dc = 4,
	    .own_heat_ratio = -0.98,
	    .own_resistance_ratio = 20}},
    {FINDING_SCALED_CIRCUIT, 5, -1, true, false,
	{.position = 5,
	    .own_rise_dc = -0.08,
	    .own_tool_dc = 0.4,
	    .own_heat_ratio = -0.05,
	    .own_resistance_ratio = 0.35}},
    {FINDING_SUPPLY_FLOW, 0, -1, false, false,
	{.flow_ratio = -0.4, .rise_dc = 0.9, .tool_dc = 0.8}},
    {FINDING_SUPPLY_TEMPERATURE, 0, -1, true, false, {.supply_dc = 3}},
    {FINDING_CONTACT, 6, -1, false, false,
	{.position = 6,
	    .own_rise_dc = -0.4,
	    .own_tool_dc = -0.5,
	    .own_heat_ratio = -0.25}},
    {FINDING_TOOL_SENSOR, 7, -1, true, false,
	{.position = 7, .own_tool_dc = 0.8, .own_resistance_ratio = 0.6}},
};
enum { WANTED = sizeof(wanted) / sizeof(wanted[0]) };

static struct profile *
learn(struct plant *plant, unsigned seed)
{
	struct error error;

	plant_init(plant, seed);
	plant_shots(plant, NULL, "A", reference, REFERENCE);
	struct profile *profile = profile_new(&line, reference, REFERENCE, &error);
	assert_non_null(profile);
	return profile;
}

static size_t
judge(const struct profile *profile, size_t count)
{
	const struct findings_run whole = {run, count, 0, count};
	size_t n = findings_judge(profile, &whole, findings, ROOM);

	assert_in_range(n, 0, ROOM);
	return n;
}

/* A run with the fault from shot BEFORE of it on. */
static size_t
judge_fault(const struct wanted *row, unsigned seed, bool tell_lot)
{
	struct plant plant;
	struct profile *profile = learn(&plant, seed);

	plant_shots(&plant, NULL, "A", run, BEFORE);
	plant_shots(&plant, &row->effect, row->lot && tell_lot ? "B" : "A",
	    run + BEFORE, AFTER);
	size_t n = judge(profile, RUN);
	profile_free(profile);
	return n;
}

static bool
is_wanted(const struct finding *finding, const struct wanted *row)
{
	return finding->cause == row->cause && finding->position == row->position &&
	       finding->side == row->side && finding->up == row->up;
}

/* The mains wander and cover up a little in one run of a hundred or so. */
static void
every_cause_is_named_and_no_other(void **state)
{
	int missed = 0, wrong = 0;

	(void)state;
	for (int i = 0; i < WANTED; i++) {
		int named = 0;
		for (unsigned seed = 0; seed < SEEDS; seed++) {
			size_t n = judge_fault(wanted + i, seed_first + seed, true);
			for (size_t k = 0; k < n; k++)
				if (is_wanted(findings + k, wanted + i))
					named++;
				else if (findings[k].cause != FINDING_DISAGREES) {
					wrong++;
					print_message("row %d (%s): named %s at %d\n",
					    i, finding_cause_text(wanted[i].cause),
					    finding_cause_text(findings[k].cause),
					    findings[k].position);
				}
		}
		if (named < SEEDS - 1)
			fail_msg("row %d: %s was named %d times of %d", i,
			    finding_cause_text(wanted[i].cause), named, SEEDS);
		missed += SEEDS - named;
	}
	assert_in_range(missed, 0, 2);
	assert_in_range(wrong, 0, 1);
}

static void
the_first_shot_is_found_within_a_few(void **state)
{
	(void)state;
	for (int i = 0; i < WANTED; i++)
		for (unsigned seed = 0; seed < SEEDS; seed++) {
			assert_true(
			    judge_fault(wanted + i, seed_first + seed, true) > 0);
			int64_t first = REFERENCE + BEFORE + 1;
			if (llabs(findings[0].first_shot - first) > 6)
				fail_msg("row %d: shot %lld, not %lld", i,
				    (long long)findings[0].first_shot,
				    (long long)first);
			assert_in_range(findings[0].last_good,
			    findings[0].first_shot - 8, findings[0].first_shot - 1);
			assert_int_equal(findings[0].first_at.ns,
			    findings[0].first_shot * 180 * CLOCK_SECOND_NS);
			assert_true(findings[0].lasting);
		}
}

static void
healthy_runs_are_silent(void **state)
{
	int named = 0, disagree = 0;

	(void)state;
	for (unsigned seed = 0; seed < 10; seed++) {
		struct plant plant;
		struct profile *profile = learn(&plant, seed_first + 100 + seed);
		for (int k = 0; k < 4; k++) {
			plant_shots(&plant, NULL, "A", run, 160);
			size_t n = judge(profile, 160);
			for (size_t i = 0; i < n; i++)
				if (findings[i].cause == FINDING_DISAGREES)
					disagree++;
				else
					named++;
		}
		profile_free(profile);
	}
	/* 6400 shots: one figure that disagrees in a thousand, no cause. */
	assert_in_range(disagree, 0, 6);
	assert_int_equal(named, 0);
}

/* Measured or not: another season is no fault, though the reference saw little of it. */
static void
warmer_weather_is_no_cause(void **state)
{
	(void)state;
	for (unsigned seed = 0; seed < 20; seed++) {
		struct plant plant;
		bool measured = seed % 2;
		plant_init(&plant, seed_first + seed);
		plant_shots(&plant, NULL, "A", reference, REFERENCE);
		plant.stack_c += seed % 4 < 2 ? 4 : -4;
		plant_shots(&plant, NULL, "A", run, RUN);
		for (int i = 0; !measured && i < REFERENCE + RUN; i++)
			(i < REFERENCE ? reference + i : run + i - REFERENCE)
			    ->value[FEATURE_STACK_C] = NAN;
		struct profile *profile =
		    profile_new(&line, reference, REFERENCE, NULL);
		for (size_t k = judge(profile, RUN); k-- > 0;)
			if (findings[k].cause != FINDING_DISAGREES)
				fail_msg("seed %u: %s", seed,
				    finding_cause_text(findings[k].cause));
		profile_free(profile);
	}
}

static void
the_evidence_begins_with_what_moved(void **state)
{
	(void)state;
	size_t n = judge_fault(wanted, seed_first, true);
	assert_int_equal(n, 1);
	assert_in_range(findings[0].evidence_count, 2, FINDING_EVIDENCE);
	const struct finding_evidence *first = findings[0].evidence;
	assert_int_equal(first->feature, FEATURE_EXIT_TOP_FIRST + 1);
	assert_int_equal(findings[0].feature, first->feature);
	assert_true(first->moved);
	assert_true(first->deviations < -20);
	assert_true(fabs(first->expected - first->found - 20) < 2);
	for (int i = 1; i < findings[0].evidence_count; i++) {
		assert_true(findings[0].evidence[i - 1].moved ||
			    !findings[0].evidence[i].moved);
		for (int k = 0; k < i; k++)
			assert_int_not_equal(findings[0].evidence[i].feature,
			    findings[0].evidence[k].feature);
	}
}

static void
a_lot_is_named_only_where_one_changes(void **state)
{
	(void)state;
	for (int i = 0; i < WANTED; i++) {
		if (!wanted[i].lot)
			continue;
		size_t n = judge_fault(wanted + i, seed_first, false);
		assert_true(n > 0);
		for (size_t k = 0; k < n; k++)
			if (findings[k].cause == wanted[i].cause)
				fail_msg("row %d: %s without a lot's change", i,
				    finding_cause_text(wanted[i].cause));
	}
}

static void
without_lots_a_lot_is_possible_at_most(void **state)
{
	(void)state;
	for (int i = 0; i < WANTED; i++) {
		struct plant plant;
		if (!wanted[i].lot)
			continue;
		plant_init(&plant, seed_first);
		plant_shots(&plant, NULL, "", reference, REFERENCE);
		struct profile *profile =
		    profile_new(&line, reference, REFERENCE, NULL);
		plant_shots(&plant, NULL, "", run, BEFORE);
		plant_shots(&plant, &wanted[i].effect, "", run + BEFORE, AFTER);
		size_t n = judge(profile, RUN);
		bool found = false;
		for (size_t k = 0; k < n; k++) {
			found |= is_wanted(findings + k, wanted + i);
			if (is_wanted(findings + k, wanted + i))
				assert_int_equal(findings[k].sure, FINDING_POSSIBLE);
		}
		assert_true(found);
		profile_free(profile);
	}
}

/* What is not measured makes a cause possible at most, and invents none. */
static void
without_flow_meters_a_block_is_possible(void **state)
{
	struct plant plant;
	const struct wanted *row = wanted;

	(void)state;
	while (row->cause != FINDING_BLOCKED_CIRCUIT)
		row++;
	plant_init(&plant, seed_first);
	plant_shots(&plant, NULL, "A", reference, REFERENCE);
	plant_shots(&plant, NULL, "A", run, BEFORE);
	plant_shots(&plant, &row->effect, "A", run + BEFORE, AFTER);
	for (int i = 0; i < REFERENCE + RUN; i++) {
		double *value =
		    i < REFERENCE ? reference[i].value : run[i - REFERENCE].value;
		for (int k = 0; k < PLANT_CIRCUITS; k++)
			value[FEATURE_WATER_FLOW_FIRST + k] =
			    value[FEATURE_HEAT_REMOVED_FIRST + k] =
				value[FEATURE_RESISTANCE_FIRST + k] = NAN;
	}
	struct profile *profile = profile_new(&line, reference, REFERENCE, NULL);
	size_t n = judge(profile, RUN);
	bool found = false;
	for (size_t k = 0; k < n; k++) {
		assert_int_equal(findings[k].sure, FINDING_POSSIBLE);
		found |= is_wanted(findings + k, row);
	}
	assert_true(found);
	profile_free(profile);
}

static void
without_a_meter_mains_and_draught_are_both_possible(void **state)
{
	struct plant plant;
	const struct wanted *row = wanted;
	bool mains = false, draught = false;

	(void)state;
	while (row->cause != FINDING_DRAUGHT)
		row++;
	plant_init(&plant, seed_first);
	plant_shots(&plant, NULL, "A", reference, REFERENCE);
	plant_shots(&plant, NULL, "A", run, BEFORE);
	/* Twice as strong: the mains' wander hides the rest. */
	for (int i = 0; i < AFTER; i++)
		run[BEFORE + i] = plant_shot(&plant, &row->effect, 2, "A");
	for (int i = 0; i < REFERENCE; i++)
		reference[i].value[FEATURE_METER_RATIO] = NAN;
	for (int i = 0; i < RUN; i++)
		run[i].value[FEATURE_METER_RATIO] = NAN;
	struct profile *profile = profile_new(&line, reference, REFERENCE, NULL);
	size_t n = judge(profile, RUN);
	for (size_t k = 0; k < n; k++) {
		mains |= findings[k].cause == FINDING_MAINS;
		draught |= findings[k].cause == FINDING_DRAUGHT;
		if (findings[k].cause != FINDING_DISAGREES)
			assert_int_equal(findings[k].sure, FINDING_POSSIBLE);
	}
	assert_true(mains && draught);
	profile_free(profile);
}

static void
two_faults_at_once_are_both_named(void **state)
{
	struct plant plant;
	struct profile *profile = learn(&plant, seed_first);
	struct effect both = wanted[0].effect; /* at position 2, as the block is */
	const struct effect *block = NULL;
	bool zone = false, circuit = false;

	(void)state;
	for (int i = 0; i < WANTED; i++)
		if (wanted[i].cause == FINDING_BLOCKED_CIRCUIT)
			block = &wanted[i].effect;
	both.own_flow_ratio = block->own_flow_ratio;
	both.own_rise_dc = block->own_rise_dc;
	both.own_tool_dc = block->own_tool_dc;
	plant_shots(&plant, NULL, "A", run, BEFORE);
	plant_shots(&plant, &both, "A", run + BEFORE, AFTER);
	size_t n = judge(profile, RUN);
	for (size_t i = 0; i < n; i++) {
		zone |= findings[i].cause == FINDING_DEAD_ZONE;
		circuit |= findings[i].cause == FINDING_BLOCKED_CIRCUIT;
	}
	assert_true(zone && circuit);
	profile_free(profile);
}

static void
a_figure_that_fits_no_cause_disagrees_once(void **state)
{
	struct plant plant;
	struct profile *profile = learn(&plant, seed_first);
	/* More flow in one circuit and nothing that follows from it. */
	const struct effect odd = {.position = 3, .own_flow_ratio = -0.3};

	(void)state;
	plant_shots(&plant, NULL, "A", run, BEFORE);
	plant_shots(&plant, &odd, "A", run + BEFORE, AFTER);
	assert_int_equal(judge(profile, RUN), 1);
	assert_int_equal(findings[0].cause, FINDING_DISAGREES);
	assert_int_equal(findings[0].feature, FEATURE_WATER_FLOW_FIRST + 2);
	assert_int_equal(findings[0].position, 3);
	assert_false(findings[0].up);
	profile_free(profile);
}

static void
a_short_run_names_nothing(void **state)
{
	struct plant plant;
	struct profile *profile = learn(&plant, seed_first);

	(void)state;
	for (size_t count = 0; count < 5; count++) {
		plant_shots(&plant, &wanted[0].effect, "A", run, count);
		assert_int_equal(judge(profile, count), 0);
	}
	profile_free(profile);
}

static void
single_odd_shots_are_passed_over(void **state)
{
	struct plant plant;
	struct profile *profile = learn(&plant, seed_first);

	(void)state;
	plant_shots(&plant, NULL, "A", run, RUN);
	for (int i = 10; i < RUN; i += 30)
		run[i] = plant_shot(&plant, &wanted[0].effect, 2, "A");
	/* and those that are not usual, whatever they say */
	for (int i = 50; i < 58; i++) {
		run[i] = plant_shot(&plant, &wanted[3].effect, 3, "A");
		run[i].usual = false;
	}
	assert_int_equal(judge(profile, RUN), 0);
	profile_free(profile);
}

static void
absent_values_say_nothing(void **state)
{
	struct plant plant;
	struct profile *profile = learn(&plant, seed_first);

	(void)state;
	plant_shots(&plant, NULL, "A", run, RUN);
	for (int i = 0; i < RUN; i++)
		for (int id = 0; id < FEATURE_COUNT; id++)
			if ((i + id) % 3 == 0 || i > 80)
				run[i].value[id] = i % 2 ? NAN : INFINITY;
	for (size_t k = judge(profile, RUN); k-- > 0;)
		assert_int_equal(findings[k].cause, FINDING_DISAGREES);
	for (int i = 0; i < RUN; i++)
		for (int id = 0; id < FEATURE_COUNT; id++)
			run[i].value[id] = NAN;
	assert_int_equal(judge(profile, RUN), 0);
	profile_free(profile);
}

static void
a_short_reference_is_refused(void **state)
{
	struct plant plant;
	struct error error;

	(void)state;
	plant_init(&plant, seed_first);
	plant_shots(&plant, NULL, "A", reference, REFERENCE);
	for (int i = 0; i < REFERENCE; i++)
		reference[i].usual = i % 7 == 0;
	assert_null(profile_new(&line, reference, REFERENCE, &error));
	assert_non_null(strstr(error.text, "18 shots"));
	assert_null(profile_new(&line, reference, 0, &error));
}

static void
no_more_is_written_than_there_is_room_for(void **state)
{
	struct plant plant;
	struct profile *profile = learn(&plant, seed_first);

	(void)state;
	plant_shots(&plant, NULL, "A", run, BEFORE);
	plant_shots(&plant, &wanted[0].effect, "A", run + BEFORE, AFTER);
	memset(findings, 0x55, sizeof(findings));
	const struct findings_run whole = {run, RUN, 0, RUN};
	/* how many there are is told all the same */
	assert_int_equal(findings_judge(profile, &whole, findings, 0), 1);
	assert_int_equal(findings_judge(profile, &whole, findings, 1), 1);
	assert_int_equal(((unsigned char *)(findings + 1))[0], 0x55);
	profile_free(profile);
}

/* Every cause has its sentences, and work at dangerous places its caution. */
static void
every_cause_has_words(void **state)
{
	char what[FINDING_TEXT], look[FINDING_TEXT];

	(void)state;
	for (int cause = 0; cause < FINDING_CAUSE_COUNT; cause++)
		for (int up = 0; up < 2; up++) {
			struct finding finding = {.cause = (enum finding_cause)cause,
			    .position = 7,
			    .side = 1,
			    .up = up,
			    .feature = FEATURE_EXIT_BOTTOM_FIRST};
			finding_tell(&finding, what, look);
			assert_in_range(strlen(what), 20, FINDING_TEXT - 2);
			assert_in_range(strlen(look), 20, FINDING_TEXT - 2);
			assert_null(strchr(what, '%'));
			assert_non_null(strchr(".", what[strlen(what) - 1]));
			assert_non_null(strchr(".", look[strlen(look) - 1]));
			if (cause == FINDING_WINDOW || cause == FINDING_DEAD_ZONE)
				assert_non_null(strstr(look, "locked out"));
			if (cause == FINDING_MAINS || cause == FINDING_ELEMENTS)
				assert_non_null(strstr(look, "licensed electricians"));
			if (cause >= FINDING_BLOCKED_CIRCUIT &&
			    cause <= FINDING_SUPPLY_FLOW)
				assert_non_null(strstr(look, "hot and under pressure"));
			if (cause == FINDING_WINDOW)
				assert_non_null(strstr(what, "Bottom pyrometer 7"));
		}
}

static int
set_up(void **state)
{
	(void)state;
	seed_first = seed_take(1);
	return 0;
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(every_cause_is_named_and_no_other),
	    cmocka_unit_test(the_first_shot_is_found_within_a_few),
	    cmocka_unit_test(healthy_runs_are_silent),
	    cmocka_unit_test(warmer_weather_is_no_cause),
	    cmocka_unit_test(the_evidence_begins_with_what_moved),
	    cmocka_unit_test(a_lot_is_named_only_where_one_changes),
	    cmocka_unit_test(without_lots_a_lot_is_possible_at_most),
	    cmocka_unit_test(without_flow_meters_a_block_is_possible),
	    cmocka_unit_test(without_a_meter_mains_and_draught_are_both_possible),
	    cmocka_unit_test(two_faults_at_once_are_both_named),
	    cmocka_unit_test(a_figure_that_fits_no_cause_disagrees_once),
	    cmocka_unit_test(a_short_run_names_nothing),
	    cmocka_unit_test(single_odd_shots_are_passed_over),
	    cmocka_unit_test(absent_values_say_nothing),
	    cmocka_unit_test(a_short_reference_is_refused),
	    cmocka_unit_test(no_more_is_written_than_there_is_room_for),
	    cmocka_unit_test(every_cause_has_words),
	};
	return cmocka_run_group_tests(tests, set_up, NULL);
}
