/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/tool_spread.h"

#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>

#include <math.h>

#define TOGETHER_S 2.0 /* readings this near in time count as one instant */

enum { INSTANTS_MAX = 4096 };

/* The good reading of `series` nearest before or at `at`; moves `*next` on. */
static bool
reading_at(const struct series *series, size_t *next, struct mono at, double *value)
{
	double together_s = fmax(TOGETHER_S, series->period_s);
	struct reading reading;

	while (*next < series->count && series_time(series, *next).ns <= at.ns)
		(*next)++;
	if (*next == 0)
		return false;
	reading = series_reading(series, *next - 1);
	*value = reading.value;
	return reading.quality == QUALITY_GOOD &&
	       (double)(at.ns - series_time(series, *next - 1).ns) <=
	           together_s * (double)CLOCK_SECOND_NS;
}

/* The spreads over all sensors at the instants of the window; how many. */
static size_t
instants(const struct history *history, const uint32_t *channels, size_t count,
    struct window window, double *spreads)
{
	struct series base =
	    history_series(history, channels[0], window.from, window.to);
	double low[INSTANTS_MAX], high[INSTANTS_MAX];
	size_t seen[INSTANTS_MAX] = {0}, used = 0;
	size_t rows = base.count < INSTANTS_MAX ? base.count : INSTANTS_MAX;

	for (size_t c = 0; c < count; c++) {
		struct series series =
		    history_series(history, channels[c], window.from, window.to);
		size_t next = 0;
		double value;

		for (size_t i = 0; i < rows; i++) {
			if (!reading_at(&series, &next, series_time(&base, i), &value))
				continue;
			low[i] = seen[i] == 0 ? value : fmin(low[i], value);
			high[i] = seen[i] == 0 ? value : fmax(high[i], value);
			seen[i]++;
		}
	}
	for (size_t i = 0; i < rows; i++)
		if (seen[i] == count)
			spreads[used++] = high[i] - low[i];
	return used;
}

enum absent
tool_spread_compute(const struct history *history, const uint32_t *channels,
    size_t count, struct window window, double coverage_min, struct tool_spread *spread)
{
	double spreads[INSTANTS_MAX], sum = 0.0, low = INFINITY, high = -INFINITY;
	double swing_dc = 0.0;
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
	used = instants(history, channels, count, window, spreads);
	if (used == 0)
		return ABSENT_LOW_COVERAGE;
	spread->mean_c = sum / (double)count;
	spread->of_means_dc = high - low;
	spread->swing_dc = swing_dc;
	spread->start_dc = spreads[0];
	spread->spread_mean_dc = gsl_stats_mean(spreads, 1, used);
	gsl_sort(spreads, 1, used);
	spread->p95_dc = gsl_stats_quantile_from_sorted_data(spreads, 1, used, 0.95);
	return ABSENT_NOT;
}
