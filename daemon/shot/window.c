/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/window.h"

#include "daemon/base/moments.h"

#include <gsl/gsl_fit.h>

#include <math.h>

enum { FIT_MAX = 2048 }; /* readings in one fit: 40 s at 50 a second */

static double
seconds(int64_t ns)
{
	return (double)ns / (double)CLOCK_SECOND_NS;
}

double
window_s(struct window window)
{
	return window.known ? seconds(window.to.ns - window.from.ns) : NAN;
}

enum absent
absent_of(enum quality quality)
{
	switch (quality) {
	case QUALITY_GOOD:
		return ABSENT_NOT;
	case QUALITY_STALE:
		return ABSENT_STALE;
	case QUALITY_SENSOR_FAULT:
	case QUALITY_FROZEN:
		return ABSENT_SENSOR_FAULT;
	case QUALITY_COMM_FAULT:
		return ABSENT_COMM_FAULT;
	case QUALITY_OUT_OF_RANGE:
		return ABSENT_OUT_OF_RANGE;
	}
	return ABSENT_STALE;
}

/* Goes over the good readings of a window: the time that each stretch covers. */
struct walk {
	struct series series;
	struct window window;
	double reach_s;    /* the longest stretch that counts as covered */
	bool any;          /* a good reading has been seen */
	double last_value; /* of it */
	struct mono last_at;
	double covered_s;
	enum quality
	    bad; /* of the last reading that was not good; good: none was seen */
};

static struct walk
walk_start(const struct history *history, uint32_t channel, struct window window)
{
	struct walk walk = {.window = window};

	if (window.known)
		walk.series = history_series(history, channel, window.from, window.to);
	walk.reach_s =
	    fmax(WINDOW_GAP_PERIODS * walk.series.period_s, WINDOW_GAP_LEAST_S);
	return walk;
}

/* Takes reading `index`; false when it is not good.  `*stretch_s`: covered before it. */
static bool
walk_take(struct walk *walk, size_t index, double *value, double *stretch_s)
{
	struct reading reading = series_reading(&walk->series, index);
	struct mono at = series_time(&walk->series, index);
	struct mono since = walk->any ? walk->last_at : walk->window.from;

	if (reading.quality != QUALITY_GOOD) {
		walk->bad = reading.quality;
		return false;
	}
	*value = reading.value;
	*stretch_s = seconds(at.ns - since.ns);
	if (*stretch_s > walk->reach_s)
		*stretch_s = 0.0;
	walk->covered_s += *stretch_s;
	walk->any = true;
	walk->last_value = reading.value;
	walk->last_at = at;
	return true;
}

/* The stretch from the last good reading to the window's end. */
static double
walk_finish(struct walk *walk)
{
	double stretch_s =
	    walk->any ? seconds(walk->window.to.ns - walk->last_at.ns) : 0.0;

	if (stretch_s > walk->reach_s)
		stretch_s = 0.0;
	walk->covered_s += stretch_s;
	return stretch_s;
}

static enum absent
walk_absent(const struct walk *walk)
{
	if (!walk->window.known)
		return ABSENT_NOT_APPLICABLE;
	if (walk->bad != QUALITY_GOOD)
		return absent_of(walk->bad);
	return walk->any ? ABSENT_LOW_COVERAGE : ABSENT_STALE;
}

struct shot_channel
window_summary(const struct history *history, uint32_t channel, struct window window,
    double coverage_min)
{
	struct shot_channel summary = {.channel = channel,
	    .min = NAN,
	    .mean = NAN,
	    .max = NAN,
	    .sd = NAN,
	    .last = NAN};
	struct walk walk = walk_start(history, channel, window);
	struct moments moments;
	double integral = 0.0, value, stretch_s;

	moments_init(&moments);
	for (size_t i = 0; i < walk.series.count; i++) {
		double before = walk.last_value;
		bool first = !walk.any;

		if (!walk_take(&walk, i, &value, &stretch_s))
			continue;
		integral += stretch_s * (first ? value : 0.5 * (before + value));
		moments_add(&moments, value);
	}
	integral += walk_finish(&walk) * (walk.any ? walk.last_value : 0.0);
	if (window.known && window_s(window) > 0.0)
		summary.coverage = fmin(1.0, walk.covered_s / window_s(window));
	if (!walk.any || walk.covered_s <= 0.0 || summary.coverage < coverage_min) {
		summary.absent = walk_absent(&walk);
		return summary;
	}
	summary.min = moments.min;
	summary.max = moments.max;
	summary.mean = integral / walk.covered_s;
	summary.sd = moments_sd(&moments);
	summary.last = walk.last_value;
	return summary;
}

struct measure
window_line_at(const struct history *history, uint32_t channel, struct window window,
    struct mono at, double *slope_per_s)
{
	double x[FIT_MAX], y[FIT_MAX];
	struct walk walk = walk_start(history, channel, window);
	double c0, c1, cov00, cov01, cov11, sum, stretch_s;
	size_t count = 0;

	for (size_t i = 0; i < walk.series.count && count < FIT_MAX; i++) {
		if (!walk_take(&walk, i, &y[count], &stretch_s))
			continue;
		x[count++] = seconds(walk.last_at.ns - at.ns);
	}
	if (count < 3 || seconds(window.to.ns - walk.last_at.ns) > walk.reach_s ||
	    x[count - 1] - x[0] < 0.5 * window_s(window))
		return (struct measure){NAN, walk_absent(&walk)};
	gsl_fit_linear(x, 1, y, 1, count, &c0, &c1, &cov00, &cov01, &cov11, &sum);
	if (slope_per_s != NULL)
		*slope_per_s = c1;
	return (struct measure){c0, ABSENT_NOT};
}

/* How long the reading was `level` or more within one window. */
static double
above_s(struct walk *walk, double level)
{
	double sum_s = 0.0, value, stretch_s;

	for (size_t i = 0; i < walk->series.count; i++)
		if (walk_take(walk, i, &value, &stretch_s) && value >= level)
			sum_s += stretch_s;
	stretch_s = walk_finish(walk);
	if (walk->any && walk->last_value >= level)
		sum_s += stretch_s;
	return sum_s;
}

struct measure
window_share_above(const struct history *history, uint32_t channel,
    const struct window *windows, size_t count, double level, double coverage_min)
{
	double sum_s = 0.0, covered_s = 0.0, all_s = 0.0;
	enum absent absent = ABSENT_NOT_APPLICABLE;

	for (size_t w = 0; w < count; w++) {
		struct walk walk = walk_start(history, channel, windows[w]);

		sum_s += above_s(&walk, level);
		covered_s += walk.covered_s;
		all_s += window_s(windows[w]);
		if (!(walk.covered_s > 0.0) ||
		    walk.covered_s < coverage_min * window_s(windows[w]))
			absent = walk_absent(&walk);
	}
	if (!(covered_s > 0.0) || !(covered_s >= coverage_min * all_s))
		return (struct measure){NAN, absent};
	return (struct measure){sum_s / covered_s, ABSENT_NOT};
}

struct measure
window_value_at(const struct history *history, uint32_t channel, struct mono at)
{
	struct series series = history_series(history, channel, (struct mono){0}, at);
	int64_t reach_ns =
	    (int64_t)(fmax(WINDOW_GAP_PERIODS * series.period_s, WINDOW_GAP_LEAST_S) *
		      1e9);
	struct series after;
	struct reading left, right;
	struct mono left_at, right_at;

	if (series.count == 0)
		return (struct measure){NAN, ABSENT_STALE};
	left = series_reading(&series, series.count - 1);
	left_at = series_time(&series, series.count - 1);
	after = history_series(history, channel, at, (struct mono){at.ns + reach_ns});
	if (left.quality != QUALITY_GOOD || after.count == 0)
		return (struct measure){NAN, left.quality != QUALITY_GOOD
						 ? absent_of(left.quality)
						 : ABSENT_STALE};
	right = series_reading(&after, 0);
	right_at = series_time(&after, 0);
	if (right.quality != QUALITY_GOOD)
		return (struct measure){NAN, absent_of(right.quality)};
	if (right_at.ns - left_at.ns > reach_ns)
		return (struct measure){NAN, ABSENT_STALE};
	if (right_at.ns == left_at.ns)
		return (struct measure){left.value, ABSENT_NOT};
	return (struct measure){left.value + (right.value - left.value) *
						 (double)(at.ns - left_at.ns) /
						 (double)(right_at.ns - left_at.ns),
	    ABSENT_NOT};
}
