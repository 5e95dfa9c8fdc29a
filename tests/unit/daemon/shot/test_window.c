/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"
#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/tool_spread.h"
#include "daemon/shot/window.h"

enum { CHANNELS = 8 };

/* One device of eight channels at one scan a second, made by hand. */
struct bench {
	struct settings settings;
	struct device_settings device;
	struct channel_settings channels[CHANNELS];
	struct history *history;
};

static void
bench_init(struct bench *bench)
{
	memset(bench, 0, sizeof(*bench));
	bench->device.period_s = 1.0;
	bench->device.channel_count = CHANNELS;
	bench->settings.devices = &bench->device;
	bench->settings.device_count = 1;
	bench->settings.channels = bench->channels;
	bench->settings.channel_count = CHANNELS;
	assert_true(groups_make(&bench->device, bench->channels));
	bench->history = history_new(&bench->settings, 0);
}

static struct mono
at(double seconds)
{
	return (struct mono){(int64_t)(seconds * 1e9)};
}

static struct window
window(double from, double to)
{
	return (struct window){.known = true, .from = at(from), .to = at(to)};
}

/* All channels get `value` plus their number times `step`. */
static void
put(struct bench *bench, double seconds, double value, double step,
    enum quality quality)
{
	unsigned char bytes[sizeof(struct scan) + CHANNELS * sizeof(struct reading)];
	struct scan *scan = (struct scan *)(void *)bytes;

	scan->device = scan->first = 0;
	scan->sent = scan->at = at(seconds);
	scan->wall.ns = 0;
	scan->count = CHANNELS;
	for (int i = 0; i < CHANNELS; i++) {
		scan->readings[i].quality = quality;
		scan->readings[i].value =
		    quality == QUALITY_GOOD ? value + i * step : NAN;
	}
	history_take(bench->history, scan);
}

static void
the_mean_is_over_time_and_not_over_readings(void **state)
{
	struct bench bench;
	struct shot_channel summary;

	(void)state;
	bench_init(&bench);
	/* A ramp of 1 a second read at uneven times: its mean over 0..10 is 5. */
	for (const double *t = (const double[]){0, 0.1, 0.2, 0.3, 2, 4, 6, 8, 10, -1};
	     *t >= 0; t++)
		put(&bench, *t, *t, 0.0, QUALITY_GOOD);
	summary = window_summary(bench.history, 0, window(0, 10), 0.8);
	assert_near(summary.mean, 5.0, 1e-12);
	assert_near(summary.coverage, 1.0, 1e-12);
	assert_near(summary.min, 0.0, 1e-12);
	assert_near(summary.max, 10.0, 1e-12);
	assert_near(summary.last, 10.0, 1e-12);
	history_free(bench.history);
}

static void
a_hole_lowers_the_coverage_and_then_there_is_no_mean(void **state)
{
	struct bench bench;
	struct shot_channel summary;

	(void)state;
	bench_init(&bench);
	for (int t = 0; t <= 100; t++)
		put(&bench, t, 7.0, 0.0,
		    t > 30 && t < 70 ? QUALITY_SENSOR_FAULT : QUALITY_GOOD);
	summary = window_summary(bench.history, 0, window(0, 100), 0.8);
	assert_near(summary.coverage, 0.6, 1e-9);
	assert_int_equal(summary.absent, ABSENT_SENSOR_FAULT);
	assert_true(isnan(summary.mean));
	summary = window_summary(bench.history, 0, window(0, 100), 0.5);
	assert_near(summary.mean, 7.0, 1e-12);
	summary = window_summary(bench.history, 0, window(35, 65), 0.5);
	assert_int_equal(summary.absent, ABSENT_SENSOR_FAULT);
	history_free(bench.history);
}

static void
a_line_is_fitted_to_the_end_of_a_ramp(void **state)
{
	struct bench bench;
	struct measure measure;
	double slope;

	(void)state;
	bench_init(&bench);
	for (int t = 0; t <= 20; t++)
		put(&bench, t, 100.0 + 1.5 * t, 1.0, QUALITY_GOOD);
	measure = window_line_at(bench.history, 2, window(15, 20), at(20.4), &slope);
	assert_int_equal(measure.absent, ABSENT_NOT);
	assert_near(measure.value, 102.0 + 1.5 * 20.4, 1e-9);
	assert_near(slope, 1.5, 1e-12);
	/* The last good reading lies too far before the end. */
	measure = window_line_at(bench.history, 2, window(15, 24), at(24), &slope);
	assert_int_equal(measure.absent, ABSENT_LOW_COVERAGE);
	history_free(bench.history);
}

static void
a_line_through_neighbours_tells_nothing(void **state)
{
	struct bench bench;

	(void)state;
	bench_init(&bench);
	for (int i = 0; i < 4; i++)
		put(&bench, 18.0 + 0.1 * i, 180.0 + i % 2, 0.0, QUALITY_GOOD);
	assert_int_equal(
	    window_line_at(bench.history, 0, window(15, 20), at(20), NULL).absent,
	    ABSENT_LOW_COVERAGE);
	history_free(bench.history);
}

static void
a_share_of_time_counts_time(void **state)
{
	struct window whole = window(0, 100),
		      parts[2] = {window(0, 20), window(30, 100)};
	struct bench bench;
	struct measure share;

	(void)state;
	bench_init(&bench);
	for (int t = 0; t <= 100; t++)
		put(&bench, t, t > 25 ? 1.0 : 0.5, 0.0, QUALITY_GOOD);
	share = window_share_above(bench.history, 0, &whole, 1, 0.99, 0.8);
	assert_near(share.value, 0.75, 1e-9);
	/* Over two windows: 20 s below and 70 s above. */
	share = window_share_above(bench.history, 0, parts, 2, 0.99, 0.8);
	assert_near(share.value, 70.0 / 90.0, 1e-9);
	share = window_share_above(bench.history, 0, parts, 0, 0.99, 0.8);
	assert_int_equal(share.absent, ABSENT_NOT_APPLICABLE);
	history_free(bench.history);
}

static void
between_two_readings_a_value_is_linear(void **state)
{
	struct bench bench;

	(void)state;
	bench_init(&bench);
	put(&bench, 0, 10.0, 0.0, QUALITY_GOOD);
	put(&bench, 2, 12.0, 0.0, QUALITY_GOOD);
	put(&bench, 9, 20.0, 0.0, QUALITY_GOOD);
	assert_near(window_value_at(bench.history, 0, at(0.5)).value, 10.5, 1e-12);
	assert_int_equal(window_value_at(bench.history, 0, at(5)).absent, ABSENT_STALE);
	history_free(bench.history);
}

/* The three spreads on a tool that swings as a whole: by definition 7 x 0.1 apart at each
 * instant and in the means, and 4 K of swing. */
static void
a_tool_that_swings_as_a_whole_is_even_across_its_face(void **state)
{
	static const uint32_t channels[CHANNELS] = {0, 1, 2, 3, 4, 5, 6, 7};
	struct bench bench;
	struct tool_spread spread;

	(void)state;
	bench_init(&bench);
	for (int t = 0; t <= 150; t++)
		put(&bench, t, 65.0 + 4.0 * t / 150.0, 0.1, QUALITY_GOOD);
	assert_int_equal(tool_spread_compute(bench.history, channels, CHANNELS,
			     window(0, 150), 0.8, &spread),
	    ABSENT_NOT);
	assert_near(spread.start_dc, 0.7, 1e-9);
	assert_near(spread.spread_mean_dc, 0.7, 1e-9);
	assert_near(spread.p95_dc, 0.7, 1e-9);
	assert_near(spread.of_means_dc, 0.7, 1e-9);
	assert_near(spread.swing_dc, 4.0, 1e-9);
	assert_near(spread.mean_c, 67.35, 1e-9);
	history_free(bench.history);
}

/*
 * Noise alone makes an instantaneous spread: the expected range of eight normal readings
 * is 2.8472 sigma (d2 of 8: Harter, Order Statistics and their Use, 1969, and any table
 * of control chart constants), but the spread of means shrinks with the readings.
 */
static void
noise_makes_an_instantaneous_spread_but_none_of_means(void **state)
{
	static const uint32_t channels[CHANNELS] = {0, 1, 2, 3, 4, 5, 6, 7};
	unsigned seed = seed_take(20260302);
	struct tool_spread spread;
	struct bench bench;

	(void)state;
	bench_init(&bench);
	for (int t = 0; t <= 2000; t++) {
		unsigned char
		    bytes[sizeof(struct scan) + CHANNELS * sizeof(struct reading)];
		struct scan *scan = (struct scan *)(void *)bytes;

		*scan = (struct scan){.sent = at(t), .at = at(t), .count = CHANNELS};
		for (int i = 0; i < CHANNELS; i++) {
			/* Box and Muller, Ann. Math. Stat. 29:610-611, 1958. */
			double u = (rand_r(&seed) + 1.0) / (RAND_MAX + 2.0);
			double v = rand_r(&seed) / (RAND_MAX + 1.0);

			scan->readings[i].quality = QUALITY_GOOD;
			scan->readings[i].value =
			    65.0 + sqrt(-2.0 * log(u)) * cos(2.0 * M_PI * v);
		}
		history_take(bench.history, scan);
	}
	assert_int_equal(tool_spread_compute(bench.history, channels, CHANNELS,
			     window(0, 2000), 0.8, &spread),
	    ABSENT_NOT);
	/* d3(8) = 0.820: the mean of 2001 ranges has a standard error of 0.0183; 5 of them */
	published(SOURCE_HARTER,
	    "mean range of eight normal readings, sigmas, simulated",
	    spread.spread_mean_dc, 2.8472, 0.092);
	/* the range of eight means of 2001 readings: 2.8472 / sqrt(2001) = 0.064 expected */
	assert_true(spread.of_means_dc < 0.17);
	history_free(bench.history);
}

static void
forgetting_keeps_what_is_newer(void **state)
{
	struct bench bench;

	(void)state;
	bench_init(&bench);
	for (int t = 0; t < 1000; t++)
		put(&bench, t, t, 0.0, QUALITY_GOOD);
	history_forget(bench.history, at(900));
	assert_int_equal(history_series(bench.history, 0, at(0), at(1000)).count, 100);
	for (int t = 1000; t < 3000; t++) {
		put(&bench, t, t, 0.0, QUALITY_GOOD);
		history_forget(bench.history, at(t - 50));
	}
	assert_int_equal(
	    history_series(bench.history, 0, at(2960), at(2969)).count, 10);
	assert_near(window_value_at(bench.history, 0, at(2965.5)).value, 2965.5, 1e-9);
	history_free(bench.history);
}

static void
a_line_that_stands_still_keeps_within_its_memory(void **state)
{
	struct bench bench;
	size_t kept;

	(void)state;
	bench_init(&bench);
	for (int i = 0; i < 300000;
	     i++) /* ten a second, over eight hours, never let go */
		put(&bench, i / 10.0, i, 0.0, QUALITY_GOOD);
	kept = history_series(bench.history, 0, at(0), at(30000)).count;
	assert_true(kept > 10000);
	assert_true(kept * (CHANNELS * 9 + 16) <= HISTORY_BYTES_MAX);
	assert_near(window_value_at(bench.history, 0, at(29990)).value, 299900.0, 1e-6);
	history_free(bench.history);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_mean_is_over_time_and_not_over_readings),
	    cmocka_unit_test(a_hole_lowers_the_coverage_and_then_there_is_no_mean),
	    cmocka_unit_test(a_line_is_fitted_to_the_end_of_a_ramp),
	    cmocka_unit_test(a_line_through_neighbours_tells_nothing),
	    cmocka_unit_test(a_share_of_time_counts_time),
	    cmocka_unit_test(between_two_readings_a_value_is_linear),
	    cmocka_unit_test(a_tool_that_swings_as_a_whole_is_even_across_its_face),
	    cmocka_unit_test(noise_makes_an_instantaneous_spread_but_none_of_means),
	    cmocka_unit_test(forgetting_keeps_what_is_newer),
	    cmocka_unit_test(a_line_that_stands_still_keeps_within_its_memory),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
