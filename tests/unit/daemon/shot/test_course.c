/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The mean of a side's pyrometers, some of which are missing for a while. */
#include "tests/unit/daemon/shot/heated.h"

#include "daemon/shot/course.h"

static double hole_from_s, hole_to_s;
static int hole_of;

static double
ramp_with_hole(const struct plant *plant, int channel, double s)
{
	if (channel == hole_of && s >= hole_from_s && s < hole_to_s)
		return NAN;
	return ramp(plant, channel, s);
}

static double
core_with_hole(int channel, double from_s, double to_s)
{
	struct plant plant;
	double core_c;

	ramp_init(&plant, ramp_with_hole);
	plant.shift[TOP_1] = -12.0;
	plant.shift[TOP_2] = 8.0;
	hole_of = channel;
	hole_from_s = from_s;
	hole_to_s = to_s;
	ramp_run(&plant);
	core_c = plant_value(&plant, FEATURE_CORE_HEAT_END_C);
	plant_release(&plant);
	return core_c;
}

/* Pyrometers that differ by 20 K: where one is missing for a while the mean must not step
 * to the other. */
static void
a_pyrometer_that_is_missing_for_a_while_moves_nothing(void **state)
{
	double whole_c = core_with_hole(-1, 0.0, 0.0);

	(void)state;
	/* The midplane knows the mean of both faces alone: the top ones show -12 and +8. */
	assert_near(whole_c, 189.9 - 1.0, 0.1);
	for (int channel = TOP_1; channel <= TOP_2; channel++) {
		assert_near(core_with_hole(channel, 100.0, 160.0), whole_c, 0.02);
		assert_near(core_with_hole(channel, 300.0, 360.0), whole_c, 1e-3);
		assert_near(core_with_hole(channel, 440.0, 495.0), whole_c, 1e-3);
	}
}

static void
one_that_fails_at_the_end_is_left_out_of_all_of_the_heat(void **state)
{
	struct plant plant;

	(void)state;
	ramp_init(&plant, ramp_with_hole);
	plant.shift[TOP_2] = 40.0;
	hole_of = TOP_2;
	hole_from_s = 503.0; /* 7 s: a tenth of what coverage forgives */
	hole_to_s = 600.0;
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_CORE_HEAT_END_C), 189.9, 0.1);
	plant_release(&plant);
}

static void
a_side_without_a_good_pyrometer_says_why(void **state)
{
	struct plant plant;

	(void)state;
	ramp_init(&plant, ramp_with_hole);
	plant.settings.channel_count = 0;
	plant.device.channel_count = 0;
	plant_add(&plant, ROLE_SURFACE_TOP, 1, 0);
	plant_add(&plant, ROLE_SURFACE_TOP, 2, 0);
	plant_add(&plant, ROLE_SURFACE_BOTTOM, 1, 0);
	plant.line.start_c = START_C;
	hole_of = BOTTOM_1;
	hole_from_s = 200.0;
	hole_to_s = 400.0;
	ramp_run(&plant);
	assert_all_absent(&plant, ABSENT_SENSOR_FAULT);
	plant_release(&plant);
	/* Enough of it, but not at the end. */
	ramp_init(&plant, ramp_with_hole);
	plant.settings.channel_count = 0;
	plant.device.channel_count = 0;
	plant_add(&plant, ROLE_SURFACE_TOP, 1, 0);
	plant_add(&plant, ROLE_SURFACE_TOP, 2, 0);
	plant_add(&plant, ROLE_SURFACE_BOTTOM, 1, 0);
	plant.line.start_c = START_C;
	hole_from_s = 501.0;
	hole_to_s = 507.0;
	ramp_run(&plant);
	assert_all_absent(&plant, ABSENT_LOW_COVERAGE);
	plant_release(&plant);
}

/* --- the curve itself ------------------------------------------------------------------ */

/* The course of both top pyrometers of the ramp over its heat. */
static enum absent
course_of(struct plant *plant, double bucket_s, struct course *course)
{
	static const uint32_t tops[] = {TOP_1, TOP_2};
	struct course_source source = {.history = plant->history,
	    .channels = tops,
	    .count = 2,
	    .window = sheet_stay_window(&plant->sheet.stays[0]),
	    .coverage_min = 0.8,
	    .to_the_end = true};

	return course_make(
	    &source, way_at(HEAT_START_S), way_at(510.0), bucket_s, course);
}

static void
thinning_neither_delays_nor_bends_a_line(void **state)
{
	static double s[1000], c[1000];
	struct plant plant;

	(void)state;
	ramp_init(&plant, ramp);
	plant.shift[TOP_1] = -3.0;
	plant.shift[TOP_2] = 5.0;
	ramp_run(&plant);
	for (double bucket_s = 0.3; bucket_s < 100.0; bucket_s *= 3.0) {
		struct course course = {.s = s, .value = c};

		assert_int_equal(course_of(&plant, bucket_s, &course), ABSENT_NOT);
		assert_true((double)course.count <= 400.0 / bucket_s + 3.0);
		for (size_t i = 0; i < course.count; i++) {
			assert_near(c[i], START_C + 1.0 + RAMP_K_S * s[i], 1e-9);
			assert_true(i == 0 || s[i] > s[i - 1]);
		}
		assert_near(s[course.count - 1], 400.0, 1e-9);
	}
	plant_release(&plant);
}

/* Polls at two rates, from devices that do not know of each other. */
static double
thin_second(const struct plant *plant, int channel, double s)
{
	return channel == TOP_2 && fmod(s, 2.0) > 0.6 ? NAN : ramp(plant, channel, s);
}

static void
the_one_with_the_most_readings_gives_the_instants(void **state)
{
	static double s[1000], c[1000];
	struct course course = {.s = s, .value = c};
	struct plant plant;

	(void)state;
	ramp_init(&plant, thin_second);
	plant.shift[TOP_2] = 6.0;
	ramp_run(&plant);
	assert_int_equal(course_of(&plant, 0.4, &course), ABSENT_NOT);
	assert_true(course.count > 790);
	for (size_t i = 0; i < course.count; i++)
		assert_near(c[i], START_C + 3.0 + RAMP_K_S * s[i], 1e-9);
	plant_release(&plant);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_pyrometer_that_is_missing_for_a_while_moves_nothing),
	    cmocka_unit_test(one_that_fails_at_the_end_is_left_out_of_all_of_the_heat),
	    cmocka_unit_test(a_side_without_a_good_pyrometer_says_why),
	    cmocka_unit_test(thinning_neither_delays_nor_bends_a_line),
	    cmocka_unit_test(the_one_with_the_most_readings_gives_the_instants),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
