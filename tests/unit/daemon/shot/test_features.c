/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is computed of a sheet that was in more than one oven, or twice in one. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tests/unit/daemon/shot/way.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"
#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/features.h"
#include "daemon/shot/outcome.h"
#include "daemon/shot/record.h"

/* A line of two ovens; its channels, all of one device that is read every second. */
enum {
	TOP_A1,
	TOP_A2,
	TOP_B,
	BOTTOM_B,
	ZONE_A, /* top, 3 kW */
	ZONE_B, /* top, 2 kW */
	ZONE_B_BELOW,
	STACK,
	METER,
	TOOL_1,
	TOOL_2,
	EYE,
	CHANNELS
};

struct bench {
	struct settings settings;
	struct line_settings line;
	struct device_settings device;
	struct channel_settings channels[CHANNELS];
	struct roles roles;
	struct history *history;
	struct sheet sheet;
	struct shot *shot;
	int hole; /* a channel that shows nothing ... */
	double hole_from_s, hole_to_s;
};

static const struct {
	enum role role;
	int position, oven;
	double rated_w;
} parts[CHANNELS] = {[TOP_A1] = {ROLE_SURFACE_TOP, 1, 0, 0},
    [TOP_A2] = {ROLE_SURFACE_TOP, 2, 0, 0},
    [TOP_B] = {ROLE_SURFACE_TOP, 1, 1, 0},
    [BOTTOM_B] = {ROLE_SURFACE_BOTTOM, 1, 1, 0},
    [ZONE_A] = {ROLE_ZONE_TOP, 1, 0, 3000.0},
    [ZONE_B] = {ROLE_ZONE_TOP, 1, 1, 2000.0},
    [ZONE_B_BELOW] = {ROLE_ZONE_BOTTOM, 1, 1, 1000.0},
    [STACK] = {ROLE_STACK, 0, 0, 0},
    [METER] = {ROLE_ENERGY_METER, 0, 0, 0},
    [TOOL_1] = {ROLE_TOOL, 1, 0, 0},
    [TOOL_2] = {ROLE_TOOL, 2, 0, 0},
    [EYE] = {ROLE_SAG_EYE, 0, 0, 0}};

/* What a channel shows at a time: ramps, so that a wrong window gives a wrong number. */
static double
shown(int channel, double seconds)
{
	switch (channel) {
	case TOP_A1:
		return 20.0 + 0.5 * seconds;
	case TOP_A2:
		return 22.0 + 0.6 * seconds;
	case TOP_B:
		return 60.0 + 0.4 * seconds;
	case BOTTOM_B:
		return 50.0 + 0.4 * seconds;
	case ZONE_A:
		return 0.5;
	case ZONE_B:
		return seconds < 250.0 ? 1.0 : 0.6;
	case ZONE_B_BELOW:
		return 0.8;
	case STACK:
		return 18.0 + 0.01 * seconds;
	case METER:
		return 1000.0 * seconds;
	case TOOL_1:
		return 65.0;
	case TOOL_2:
		return 66.5;
	default:
		return 0.0;
	}
}

static void
play(struct bench *bench)
{
	struct scan *scan = calloc(1, scan_bytes(CHANNELS));

	for (int t = 0; t < 800; t++) {
		scan->sent = scan->at = way_at(t);
		scan->count = CHANNELS;
		for (int c = 0; c < CHANNELS; c++) {
			bool hole = c == bench->hole && t >= bench->hole_from_s &&
			            t < bench->hole_to_s;

			scan->readings[c].quality =
			    hole ? QUALITY_SENSOR_FAULT : QUALITY_GOOD;
			scan->readings[c].value = hole ? NAN : shown(c, t);
		}
		history_take(bench->history, scan);
	}
	free(scan);
}

/* Heated in A from 110 to 200 and in B from 208 to 300, platens closed from 312 to 412. */
static int
bench_setup(void **state)
{
	struct bench *bench = calloc(1, sizeof(*bench));

	bench->line = (struct line_settings){.machine = MACHINE_ROTARY,
	    .station_count = 4,
	    .stations = {{"load", STATION_LOAD}, {"oven-a", STATION_OVEN},
		{"oven-b", STATION_OVEN}, {"form", STATION_FORM}},
	    .oven_count = 2,
	    .side_count = 1,
	    .heat_min_s = 30.0,
	    .heat_max_s = 150.0,
	    .form_min_s = 5.0,
	    .rate_from_s = 10.0,
	    .rate_to_s = 40.0,
	    .coverage_min = 0.8};
	bench->device.period_s = 1.0;
	bench->device.channel_count = CHANNELS;
	for (int c = 0; c < CHANNELS; c++)
		bench->channels[c] = (struct channel_settings){.role = parts[c].role,
		    .position = parts[c].position,
		    .oven = parts[c].oven,
		    .side = -1,
		    .fault_channel = -1,
		    .min_si = -INFINITY,
		    .max_si = INFINITY,
		    .rated_w = parts[c].rated_w};
	bench->settings.lines = &bench->line;
	bench->settings.line_count = 1;
	bench->settings.devices = &bench->device;
	bench->settings.device_count = 1;
	bench->settings.channels = bench->channels;
	bench->settings.channel_count = CHANNELS;
	assert_true(groups_make(&bench->device, bench->channels));
	assert_int_equal(roles_init(&bench->roles, &bench->settings, 0, 0), 0);
	bench->history = history_new(&bench->settings, 0);
	bench->hole = -1;
	bench->shot = shot_new(bench->roles.all_count);
	bench->sheet = way_usual();
	bench->sheet.stay_count = 0;
	way_stay(&bench->sheet, 0, 110.0, 200.0);
	way_stay(&bench->sheet, 1, 208.0, 300.0);
	bench->sheet.sag = way_edge(280.0);
	bench->sheet.arrived = way_edge(308.0);
	bench->sheet.form_start = way_edge(312.0);
	bench->sheet.form_end = way_edge(412.0);
	*state = bench;
	return 0;
}

static int
bench_teardown(void **state)
{
	struct bench *bench = *state;

	shot_free(bench->shot);
	history_free(bench->history);
	roles_release(&bench->roles);
	free(bench);
	return 0;
}

static struct feature_source
source_of(const struct bench *bench)
{
	static const struct circumstances untold = {
	    .recipe = -1, .thickness_m = NAN, .stack_c = NAN};

	return (struct feature_source){.settings = &bench->settings,
	    .line = &bench->line,
	    .roles = &bench->roles,
	    .history = bench->history,
	    .sheet = &bench->sheet,
	    .circumstances = &untold};
}

static void
compute(struct bench *bench)
{
	struct feature_source source = source_of(bench);

	play(bench);
	features_compute(&source, bench->shot);
}

#define assert_feature(bench, feature, wanted, tolerance)                      \
	do {                                                                   \
		assert_int_equal((bench)->shot->absent[feature], ABSENT_NOT);  \
		assert_near((bench)->shot->value[feature], wanted, tolerance); \
	} while (0)

static struct shot_channel
summary(const struct bench *bench, uint32_t channel)
{
	size_t i = 0;

	while (bench->shot->channels[i].channel != channel) {
		i++;
		assert_true(i < bench->shot->channel_count);
	}
	return bench->shot->channels[i];
}

static void
two_ovens_are_one_heat_with_its_gap(void **state)
{
	struct bench *bench = *state;

	compute(bench);
	assert_feature(bench, FEATURE_HEAT_S, 190.0, 1e-9);
	assert_feature(bench, FEATURE_HEAT_GAP_S, 8.0, 1e-9);
	assert_feature(bench, FEATURE_SAG_S, 170.0, 1e-9);
	assert_feature(bench, FEATURE_SOAK_WAIT_S, 20.0, 1e-9);
	assert_feature(bench, FEATURE_TRANSFER_S, 12.0, 1e-9);
	assert_feature(bench, FEATURE_FORM_S, 100.0, 1e-9);
}

static void
a_sheet_comes_in_by_the_first_oven_and_leaves_by_the_last(void **state)
{
	struct bench *bench = *state;

	compute(bench);
	/* Slopes of oven A's two pyrometers; levels of oven B's at 300 s. */
	assert_feature(bench, FEATURE_RATE_TOP, 0.55, 1e-9);
	assert_int_equal(
	    bench->shot->absent[FEATURE_RATE_BOTTOM], ABSENT_NOT_CONFIGURED);
	assert_feature(bench, FEATURE_EXIT_TOP_C, 180.0, 1e-9);
	assert_feature(bench, FEATURE_EXIT_TOP_FIRST, 180.0, 1e-9);
	assert_int_equal(
	    bench->shot->absent[FEATURE_EXIT_TOP_FIRST + 1], ABSENT_NOT_CONFIGURED);
	assert_feature(bench, FEATURE_EXIT_BOTTOM_C, 170.0, 1e-9);
	assert_feature(bench, FEATURE_EXIT_DIFFERENCE_DC, 10.0, 1e-9);
	assert_feature(bench, FEATURE_STACK_C, 19.1, 1e-9);
	/* Heat start to arrival, 1 kW. */
	assert_feature(bench, FEATURE_METER_KWH, 198000.0, 1e-6);
}

static void
each_zone_counts_over_the_stay_in_its_oven(void **state)
{
	struct bench *bench = *state;
	double a_j = 3000.0 * 0.5 * 90.0;
	/* On the stamps 209 to 299 and the 8.25 ... 299.75 that the window reaches: 1.0
	 * before 250, 0.6 from then on, a trapezoid between. */
	double b_mean = (1.0 * (249.0 - 208.25) + 0.8 * 1.0 + 0.6 * (299.75 - 250.0)) /
	                (299.75 - 208.25);

	compute(bench);
	assert_feature(
	    bench, FEATURE_ENERGY_TOP_KWH, a_j + 2000.0 * b_mean * 92.0, 1e-6);
	assert_feature(bench, FEATURE_ENERGY_BOTTOM_KWH, 1000.0 * 0.8 * 92.0, 1e-6);
	assert_feature(bench, FEATURE_ENERGY_KWH,
	    a_j + 2000.0 * b_mean * 92.0 + 1000.0 * 0.8 * 92.0, 1e-6);
	assert_feature(bench, FEATURE_SATURATION_MAX, 0.445, 0.01);
	assert_feature(bench, FEATURE_SATURATED_ZONES, 0.0, 0.0);
	assert_near(summary(bench, TOP_A1).max, shown(TOP_A1, 199.0), 1e-9);
	assert_near(summary(bench, TOP_B).min, shown(TOP_B, 209.0), 1e-9);
	assert_near(summary(bench, STACK).min, shown(STACK, 111.0), 1e-9);
	assert_near(summary(bench, STACK).max, shown(STACK, 299.0), 1e-9);
}

static void
a_hole_in_the_first_oven_lowers_the_coverage_of_the_heat(void **state)
{
	struct bench *bench = *state;

	bench->hole = TOP_A2;
	bench->hole_from_s = 150.0;
	bench->hole_to_s = 190.0;
	compute(bench);
	assert_feature(bench, FEATURE_HEAT_COVERAGE, 49.0 / 89.5, 0.02);
	assert_feature(bench, FEATURE_EXIT_TOP_C, 180.0, 1e-9);
	assert_feature(bench, FEATURE_RATE_TOP, 0.55, 1e-9);
	assert_int_equal(summary(bench, TOP_A2).absent, ABSENT_SENSOR_FAULT);
}

static void
an_oven_that_it_never_came_to_takes_nothing_away(void **state)
{
	struct bench *bench = *state;

	bench->sheet.stay_count = 1;
	bench->sheet.sag.known = bench->sheet.form_start.known =
	    bench->sheet.form_end.known = bench->sheet.arrived.known = false;
	compute(bench);
	assert_feature(bench, FEATURE_HEAT_S, 90.0, 1e-9);
	assert_feature(bench, FEATURE_HEAT_GAP_S, 0.0, 0.0);
	assert_feature(bench, FEATURE_ENERGY_TOP_KWH, 3000.0 * 0.5 * 90.0, 1e-6);
	assert_feature(bench, FEATURE_ENERGY_BOTTOM_KWH, 0.0, 0.0);
	assert_feature(bench, FEATURE_HEAT_COVERAGE, 1.0, 1e-9);
	assert_feature(bench, FEATURE_EXIT_TOP_C, 131.0, 1e-9); /* 120 and 142 */
	assert_int_equal(
	    bench->shot->absent[FEATURE_EXIT_BOTTOM_C], ABSENT_NOT_CONFIGURED);
	assert_int_equal(summary(bench, TOP_B).absent, ABSENT_NOT_APPLICABLE);
	assert_int_equal(bench->shot->absent[FEATURE_METER_KWH], ABSENT_NOT_APPLICABLE);
}

static void
two_heats_add_up_and_the_last_one_is_shown(void **state)
{
	struct bench *bench = *state;

	bench->sheet.stay_count = 0;
	way_stay(&bench->sheet, 0, 10.0, 60.0);
	way_stay(&bench->sheet, 0, 150.0, 300.0);
	bench->hole = ZONE_A; /* 6 s of the first heat, out of 49.5 */
	bench->hole_from_s = 30.0;
	bench->hole_to_s = 35.0;
	compute(bench);
	assert_feature(bench, FEATURE_HEAT_S, 290.0, 1e-9);
	assert_feature(bench, FEATURE_HEAT_GAP_S, 90.0, 1e-9);
	assert_feature(bench, FEATURE_ENERGY_TOP_KWH, 3000.0 * 0.5 * 200.0, 1e-6);
	assert_feature(bench, FEATURE_HEAT_COVERAGE, 43.5 / 49.5, 1e-9);
	assert_near(summary(bench, TOP_A1).min, shown(TOP_A1, 151.0), 1e-9);
	assert_near(summary(bench, ZONE_A).coverage, 1.0, 1e-9);
	assert_feature(bench, FEATURE_RATE_TOP, 0.55, 1e-9);
	assert_feature(bench, FEATURE_EXIT_TOP_C, 186.0, 1e-9); /* 170 and 202 */
}

static void
without_a_heat_nothing_of_it_applies(void **state)
{
	struct bench *bench = *state;
	static const int features[] = {FEATURE_HEAT_S, FEATURE_HEAT_GAP_S,
	    FEATURE_SAG_S, FEATURE_EXIT_TOP_C, FEATURE_EXIT_BOTTOM_C, FEATURE_RATE_TOP,
	    FEATURE_STACK_C, FEATURE_ENERGY_KWH, FEATURE_ENERGY_TOP_KWH,
	    FEATURE_METER_KWH, FEATURE_SATURATION_MAX, FEATURE_SATURATED_ZONES,
	    FEATURE_HEAT_COVERAGE, FEATURE_TRANSFER_S, FEATURE_CYCLE_S};

	bench->sheet.stay_count = 0;
	compute(bench);
	for (size_t i = 0; i < sizeof(features) / sizeof(features[0]); i++) {
		assert_int_equal(
		    bench->shot->absent[features[i]], ABSENT_NOT_APPLICABLE);
		assert_true(isnan(bench->shot->value[features[i]]));
	}
	assert_feature(bench, FEATURE_FORM_S, 100.0, 1e-9);
	assert_feature(bench, FEATURE_TOOL_MEAN_C, 65.75, 1e-9);
}

/* Of any machine and any order of edges: the parts are all there and add up, or none. */
static void
the_parts_of_a_cycle_add_up_to_it(void **state)
{
	static const int parts_of[] = {FEATURE_CYCLE_FORMING_S,
	    FEATURE_CYCLE_WAIT_SAG_S, FEATURE_CYCLE_WAIT_LINE_S, FEATURE_CYCLE_INDEX_S,
	    FEATURE_CYCLE_CLOSING_S};
	struct bench *bench = *state;
	struct feature_source source = source_of(bench);
	int whole = 0;

	srand(seed_take(20260302));
	for (int i = 0; i < 3000; i++) {
		struct edge *edges[] = {&bench->sheet.last_form_start,
		    &bench->sheet.last_form_end, &bench->sheet.sag,
		    &bench->sheet.stays[1].out, &bench->sheet.arrived,
		    &bench->sheet.form_start};
		double at_s = 100.0, sum_s = 0.0;

		for (size_t e = 0; e < sizeof(edges) / sizeof(edges[0]); e++) {
			at_s += 60.0 * rand() / RAND_MAX - (rand() % 8 == 0 ? 80.0 : 0);
			*edges[e] = way_edge(at_s);
			edges[e]->known = rand() % 20 != 0;
		}
		if (rand() % 2) /* a shuttle is there as it leaves the oven */
			bench->sheet.arrived = bench->sheet.stays[1].out;
		features_compute(&source, bench->shot);
		for (size_t p = 0; p < sizeof(parts_of) / sizeof(parts_of[0]); p++) {
			assert_int_equal(bench->shot->absent[parts_of[p]],
			    bench->shot->absent[FEATURE_CYCLE_S]);
			sum_s += bench->shot->value[parts_of[p]];
		}
		if (bench->shot->absent[FEATURE_CYCLE_S] != ABSENT_NOT)
			continue;
		whole++;
		assert_near(sum_s, bench->shot->value[FEATURE_CYCLE_S], 1e-9);
	}
	assert_true(whole > 500);
}

/* --- the record --- */

static void
a_record_holds_its_way_and_leaves_the_sheet_alone(void **state)
{
	struct bench *bench = *state;
	struct feature_source source = source_of(bench);
	struct sheet before;

	bench->sheet.recipe = 7;
	bench->sheet.cycle_count = 41;
	bench->sheet.set_points = 99;
	bench->sheet.closings = 2;
	bench->sheet.sag = way_edge(120.0); /* too soon: taken back in the record */
	before = bench->sheet;
	play(bench);
	record_make(&source, bench->shot);
	assert_memory_equal(&before, &bench->sheet, sizeof(before));
	assert_int_equal(bench->shot->outcome, SHOT_COMPLETE);
	assert_int_equal(bench->shot->flags, SHOT_FLAG_SEQUENCE | SHOT_FLAG_SAG_STUCK);
	assert_int_equal(bench->shot->absent[FEATURE_SAG_S], ABSENT_NOT_APPLICABLE);
	assert_int_equal(bench->shot->heat_start_at.ns, way_edge(110.0).wall.ns);
	assert_int_equal(bench->shot->heat_end_at.ns, way_edge(300.0).wall.ns);
	assert_int_equal(bench->shot->form_start_at.ns, way_edge(312.0).wall.ns);
	assert_int_equal(bench->shot->form_end_at.ns, way_edge(412.0).wall.ns);
	assert_int_equal(bench->shot->recipe, 7);
	assert_int_equal(bench->shot->cycle_count, 41);
	assert_int_equal(bench->shot->set_points, 99);
	assert_near(bench->shot->uncertainty_s, 0.5, 1e-9);
}

static void
a_recipe_has_its_own_timer(void **state)
{
	struct bench *bench = *state;
	struct feature_source source = source_of(bench);
	struct recipe_settings recipe = {.number = 7, .heat_max_s = 92.5};

	bench->sheet.sag.known = false;
	play(bench);
	record_make(&source, bench->shot);
	assert_int_equal(bench->shot->outcome, SHOT_COMPLETE);
	bench->settings.recipes = &recipe;
	bench->settings.recipe_count = 1;
	bench->sheet.recipe = 7;
	record_make(&source, bench->shot);
	assert_int_equal(bench->shot->outcome, SHOT_TIMER_RELEASE);
	recipe.heat_max_s = NAN;
	record_make(&source, bench->shot);
	assert_int_equal(bench->shot->outcome, SHOT_COMPLETE);
}

/* Four polls of the device with the bits that move the sheets, and 5 s at least. */
static void
an_edge_must_be_as_certain_as_the_polls_allow(void **state)
{
	struct bench *bench = *state;

	assert_near(roles_edge_limit_s(&bench->settings, &bench->roles), 5.0, 0.0);
	bench->roles.bit[ROLE_OVEN_IN] = EYE;
	bench->channels[EYE].period_s = 3.0;
	assert_near(roles_edge_limit_s(&bench->settings, &bench->roles), 12.0, 1e-12);
}

/* A bit that is polled more slowly than what moves the sheets is not silent between its polls;
 * one that is polled faster is waited for like the others. */
static void
a_bit_is_silent_by_its_own_polls(void **state)
{
	struct bench *bench = *state;

	bench->roles.bit[ROLE_OVEN_IN] = EYE;
	bench->roles.bit[ROLE_FORM_CLOSED] = METER;
	bench->channels[EYE].period_s = 2.0;
	bench->channels[METER].period_s = 10.0;
	assert_near(roles_silence_s(&bench->settings, &bench->roles, ROLE_FORM_CLOSED),
	    40.0, 1e-12);
	bench->channels[METER].period_s = 0.5;
	assert_near(roles_silence_s(&bench->settings, &bench->roles, ROLE_FORM_CLOSED),
	    8.0, 1e-12);
	assert_near(
	    roles_silence_s(&bench->settings, &bench->roles, ROLE_FAULT), 8.0, 1e-12);
}

#define BENCHED(f) cmocka_unit_test_setup_teardown(f, bench_setup, bench_teardown)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    BENCHED(two_ovens_are_one_heat_with_its_gap),
	    BENCHED(a_sheet_comes_in_by_the_first_oven_and_leaves_by_the_last),
	    BENCHED(each_zone_counts_over_the_stay_in_its_oven),
	    BENCHED(a_hole_in_the_first_oven_lowers_the_coverage_of_the_heat),
	    BENCHED(an_oven_that_it_never_came_to_takes_nothing_away),
	    BENCHED(two_heats_add_up_and_the_last_one_is_shown),
	    BENCHED(without_a_heat_nothing_of_it_applies),
	    BENCHED(the_parts_of_a_cycle_add_up_to_it),
	    BENCHED(a_record_holds_its_way_and_leaves_the_sheet_alone),
	    BENCHED(a_recipe_has_its_own_timer),
	    BENCHED(an_edge_must_be_as_certain_as_the_polls_allow),
	    BENCHED(a_bit_is_silent_by_its_own_polls),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
