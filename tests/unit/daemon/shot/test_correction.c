/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is known of how far a sensor is off reaches every number that is made of its
 * readings, and never the readings that are kept. */
#include "tests/unit/daemon/shot/plant.h"

#include "daemon/shot/tool_spread.h"
#include "daemon/shot/window.h"

enum { TOP, TOOL_1, TOOL_2 };

static double
rising(const struct plant *plant, int channel, double s)
{
	(void)plant;
	return channel == TOP ? 20.0 + 0.5 * s : 60.0 + channel;
}

static int
set_up(void **state)
{
	struct plant *plant = malloc(sizeof(*plant));

	plant_init(plant, rising);
	plant_add(plant, ROLE_SURFACE_TOP, 1, 0);
	plant_add(plant, ROLE_TOOL, 1, 0);
	plant_add(plant, ROLE_TOOL, 2, 0);
	plant_ready(plant);
	plant_play(plant, 0.0, 300.0);
	*state = plant;
	return 0;
}

static int
tear_down(void **state)
{
	plant_release(*state);
	free(*state);
	return 0;
}

static const double off[] = {-4.0, 0.25, -0.5};

static void
numbers_over_a_window_are_corrected(void **state)
{
	struct plant *plant = *state;
	struct window window = {true, way_at(100.0), way_at(200.0)};
	struct shot_channel summary;
	double slope;

	history_correct(plant->history, off);
	summary = window_summary(plant->history, TOP, window, 0.8);
	assert_near(summary.mean, 95.0 - 4.0, 1e-9);
	assert_near(summary.min, 70.0 - 4.0, 1e-9);
	assert_near(summary.max, 120.0 - 4.0, 1e-9);
	assert_near(summary.last, 120.0 - 4.0, 1e-9);
	assert_near(
	    window_line_at(plant->history, TOP, window, way_at(200.0), &slope).value,
	    116.0, 1e-9);
	assert_near(slope, 0.5, 1e-9);
	assert_near(
	    window_value_at(plant->history, TOP, way_at(150.1)).value, 91.05, 1e-9);
	/* 95 is reached at 158 s and not at 150. */
	assert_near(
	    window_share_above(plant->history, TOP, &window, 1, 95.0, 0.8).value, 0.42,
	    0.006);
	history_correct(plant->history, NULL);
	assert_near(window_summary(plant->history, TOP, window, 0.8).mean, 95.0, 1e-9);
}

static void
a_spread_is_that_of_the_corrected_sensors(void **state)
{
	static const uint32_t tools[] = {TOOL_1, TOOL_2};
	struct plant *plant = *state;
	struct tool_spread spread;

	history_correct(plant->history, off);
	assert_int_equal(
	    tool_spread_compute(plant->history, tools, 2,
		(struct window){true, way_at(100.0), way_at(200.0)}, 0.8, &spread),
	    ABSENT_NOT);
	assert_near(spread.spread_mean_dc, 0.25, 1e-9);
	assert_near(spread.of_means_dc, 0.25, 1e-9);
	assert_near(spread.start_dc, 0.25, 1e-9);
	assert_near(spread.mean_c, 61.375, 1e-9);
}

/* A calibration told later, of this shot and not of the one before, is no drift. */
static void
the_tools_drift_is_that_of_its_sensors(void **state)
{
	struct plant *plant = *state;

	plant->sheet.last_tool_mean_c = 61.0;
	plant_play(plant, 300.5, 450.0);
	plant_compute(plant);
	assert_near(plant_value(plant, FEATURE_TOOL_DRIFT_DC), 0.5, 1e-9);
	plant->told.correction = off;
	history_correct(plant->history, off);
	plant_compute(plant);
	assert_near(plant_value(plant, FEATURE_TOOL_MEAN_C), 61.375, 1e-9);
	assert_near(plant_value(plant, FEATURE_TOOL_DRIFT_DC), 0.5, 1e-9);
}

static int
see_as_it_came(void *arg, const struct scan *scan)
{
	struct plant *plant = arg;

	for (uint32_t c = 0; c < scan->count; c++) {
		assert_int_equal(scan->readings[c].raw, 7 + c);
		assert_near(scan->readings[c].value,
		    rising(plant, (int)c, (double)scan->at.ns / 1e9), 1e-9);
	}
	return 0;
}

static void
what_is_kept_stays_as_it_came(void **state)
{
	struct plant *plant = *state;
	struct series series;

	history_correct(plant->history, off);
	assert_int_equal(history_scans(plant->history, way_at(0.0), way_at(300.0),
			     see_as_it_came, plant),
	    0);
	series = history_series(plant->history, TOP, way_at(10.0), way_at(20.0));
	assert_int_equal(series_reading(&series, 0).raw, 7);
	assert_near(series_reading(&series, 0).value, 25.0 - 4.0, 1e-9);
}

/* An impossible correction makes no numbers of itself. */
static void
a_corrected_reading_outside_the_channels_range_is_none(void **state)
{
	static const double too_far[] = {-100.0, 0.0, 0.0};
	struct plant *plant = *state;
	struct series series;

	plant->settings.channels[TOP].min_si = 0;
	plant->settings.channels[TOP].max_si = 300;
	history_correct(plant->history, too_far);
	/* 25 C, corrected to -75 C */
	series = history_series(plant->history, TOP, way_at(10.0), way_at(20.0));
	assert_int_equal(series_reading(&series, 0).quality, QUALITY_OUT_OF_RANGE);
	assert_true(isnan(series_reading(&series, 0).value));
	assert_int_equal(series_reading(&series, 0).raw, 7);
	/* 165 C, corrected to 65 C */
	series = history_series(plant->history, TOP, way_at(290.0), way_at(300.0));
	assert_int_equal(series_reading(&series, 0).quality, QUALITY_GOOD);
	assert_near(series_reading(&series, 0).value, 65.0, 1e-9);
	assert_int_equal(window_value_at(plant->history, TOP, way_at(100.1)).absent,
	    ABSENT_OUT_OF_RANGE);
}

#define PLANTED(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    PLANTED(numbers_over_a_window_are_corrected),
	    PLANTED(a_spread_is_that_of_the_corrected_sensors),
	    PLANTED(the_tools_drift_is_that_of_its_sensors),
	    PLANTED(what_is_kept_stays_as_it_came),
	    PLANTED(a_corrected_reading_outside_the_channels_range_is_none),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
