/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/tool_spread.h"

#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>

#include <math.h>

#include "conf/settings.h"

#define TOGETHER_S 2.0 /* readings this near in time count as one instant */

enum { INSTANTS_MAX = 4096 }; /* of a longer window every second one, or third ... */

/* A sensor's readings, taken one instant after the other. */
struct cursor {
	struct series series;
	size_t next;
};

/* The good reading nearest before or at `at`. */
static bool
reading_at(struct cursor *cursor, struct mono at, double *value)
{
	const struct series *series = &cursor->series;
	double together_s = fmax(TOGETHER_S, series->period_s);
	struct reading reading;

	while (cursor->next < series->count &&
	       series_time(series, cursor->next).ns <= at.ns)
		cursor->next++;
	if (cursor->next == 0)
		return false;
	reading = series_reading(series, cursor->next - 1);
	*value = reading.value;
	return reading.quality == QUALITY_GOOD &&
	       (double)(at.ns - series_time(series, cursor->next - 1).ns) <=
	           together_s * (double)CLOCK_SECOND_NS;
}

/* Largest minus smallest of the sensors at one instant; NAN when one has no reading. */
static double
spread_at(struct cursor *cursors, size_t count, struct mono at)
{
	double low = INFINITY, high = -INFINITY, value;

	for (size_t c = 0; c < count; c++) {
		if (!reading_at(&cursors[c], at, &value))
			return NAN;
		low = fmin(low, value);
		high = fmax(high, value);
	}
	return high - low;
}

/* The spreads at the instants of the window; how many.  `*start_dc`: the one at its
 * beginning, NAN when there is none within TOGETHER_S or a poll of it. */
static size_t
instants(const struct history *history, const uint32_t *channels, size_t count,
    struct window window, double *spreads, double *start_dc)
{
	struct series base =
	    history_series(history, channels[0], window.from, window.to);
	size_t stride = base.count / INSTANTS_MAX + 1, used = 0;
	struct cursor cursors[SETTINGS_POSITIONS];

	for (size_t c = 0; c < count; c++)
		cursors[c] = (struct cursor){
		    history_series(history, channels[c], window.from, window.to), 0};
	for (size_t i = 0; i < base.count; i += stride) {
		double spread = spread_at(cursors, count, series_time(&base, i));

		if (isnan(spread))
			continue;
		if (used == 0 &&
		    (double)(series_time(&base, i).ns - window.from.ns) / 1e9 <=
			fmax(TOGETHER_S, base.period_s))
			*start_dc = spread;
		spreads[used++] = spread;
	}
	return used;
}

enum absent
tool_spread_compute(const struct history *history, const uint32_t *channels,
    size_t count, struct window window, double coverage_min, struct tool_spread *spread)
{
	double spreads[INSTANTS_MAX], sum = 0.0, low = INFINITY, high = -INFINITY;
	double swing_dc = 0.0, start_dc = NAN;
	size_t used;

	*spread = (struct tool_spread){NAN, NAN, NAN, NAN, NAN, NAN};
	for (size_t c = 0; c < count; c++) {
		struct shot_channel one =
		    window_summary(history, channels[c], window, coverage_min);

		if (one.absent != ABSENT_NOT)
			return one.absent;
		sum += one.mean;
		low = fmin(low, one.mean);
		high = fmax(high, one.mean);
		swing_dc = fmax(swing_dc, one.max - one.min);
	}
	used = instants(history, channels, count, window, spreads, &start_dc);
	if (used == 0)
		return ABSENT_LOW_COVERAGE;
	spread->mean_c = sum / (double)count;
	spread->of_means_dc = high - low;
	spread->swing_dc = swing_dc;
	spread->start_dc = start_dc;
	spread->spread_mean_dc = gsl_stats_mean(spreads, 1, used);
	gsl_sort(spreads, 1, used);
	spread->p95_dc = gsl_stats_quantile_from_sorted_data(spreads, 1, used, 0.95);
	return ABSENT_NOT;
}
