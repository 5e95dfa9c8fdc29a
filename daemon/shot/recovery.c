/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/recovery.h"

#include "daemon/shot/track.h"

#include <math.h>

/* Weighted sums of a straight line through the logarithm. */
struct sums {
	size_t count;
	double w, x, y, xx, xy, yy;
	double first_s, last_s;
};

static void
sums_take(struct sums *sums, double s, double above_dc)
{
	double w = above_dc * above_dc, y;

	if (!(above_dc > 0.0))
		return;
	y = log(above_dc);
	if (sums->count++ == 0)
		sums->first_s = s;
	sums->last_s = s;
	sums->w += w;
	sums->x += w * s;
	sums->y += w * y;
	sums->xx += w * s * s;
	sums->xy += w * s * y;
	sums->yy += w * y * y;
}

/* NAN when it is no fall that stands out. */
static double
sums_time_constant_s(const struct sums *sums)
{
	double mean_x, mean_y, xx, xy, yy, slope, rest, error, from_dc, to_dc;

	if (sums->count < RECOVERY_READINGS)
		return NAN;
	mean_x = sums->x / sums->w;
	mean_y = sums->y / sums->w;
	xx = sums->xx - sums->x * mean_x;
	xy = sums->xy - sums->x * mean_y;
	yy = sums->yy - sums->y * mean_y;
	if (!(xx > 0.0))
		return NAN;
	slope = xy / xx;
	rest = fmax(yy - slope * xy, 0.0);
	error = sqrt(rest / ((double)sums->count - 2.0) / xx);
	from_dc = exp(mean_y + slope * (sums->first_s - mean_x));
	to_dc = exp(mean_y + slope * (sums->last_s - mean_x));
	if (!(-slope > RECOVERY_SIGMAS * error) ||
	    !(from_dc - to_dc >= RECOVERY_FALL_DC))
		return NAN;
	return -1.0 / slope;
}

/* A straight line by least squares. */
struct line {
	double start, slope; /* a second */
};

static struct line
line_through(const struct history *history, uint32_t channel, struct window window)
{
	double count = 0.0, s = 0.0, v = 0.0, ss = 0.0, sv = 0.0, value, slope;
	struct track track;
	struct mono at;

	track_start(&track, history, channel, window);
	while (track_next(&track, &at, &value)) {
		double x = (double)(at.ns - window.from.ns) / CLOCK_SECOND_NS;

		count += 1.0;
		s += x;
		v += value;
		ss += x * x;
		sv += x * value;
	}
	slope = count * ss - s * s > 0.0 ? (count * sv - s * v) / (count * ss - s * s)
	                                 : 0.0;
	return (struct line){(v - slope * s) / count, slope};
}

static int64_t
ns_of(double s)
{
	return (int64_t)(s * (double)CLOCK_SECOND_NS);
}

struct measure
recovery_fit(const struct history *history, uint32_t sensor, uint32_t water,
    struct window open, double coverage_min)
{
	struct measure none = {NAN, ABSENT_NOT_APPLICABLE};
	struct track tool;
	struct sums sums = {0};
	struct line supply;
	struct mono at;
	double value;

	if (!open.known ||
	    window_s(open) < RECOVERY_AFTER_S + RECOVERY_BEFORE_S + RECOVERY_LEAST_S)
		return none;
	open.from.ns += ns_of(RECOVERY_AFTER_S);
	open.to.ns -= ns_of(RECOVERY_BEFORE_S);
	none.absent = window_summary(history, sensor, open, coverage_min).absent;
	if (none.absent == ABSENT_NOT)
		none.absent = window_summary(history, water, open, coverage_min).absent;
	if (none.absent != ABSENT_NOT)
		return none;
	track_start(&tool, history, sensor, open);
	supply = line_through(history, water, open);
	while (track_next(&tool, &at, &value)) {
		double s = (double)(at.ns - open.from.ns) / CLOCK_SECOND_NS;

		sums_take(&sums, s, value - (supply.start + supply.slope * s));
	}
	value = sums_time_constant_s(&sums);
	return (struct measure){
	    value, isnan(value) ? ABSENT_NOT_APPLICABLE : ABSENT_NOT};
}
