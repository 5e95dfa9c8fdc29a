/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/stretch.h"

#include <math.h>
#include <stdlib.h>

enum { SHOTS_MAX = 32 };

#define OUTLIER 4.0 /* standard deviations from the middle: no part of the mean */

struct stretch
stretch_of(const struct track *track, size_t from, size_t to)
{
	struct stretch stretch = {from, to, 0, NAN, 0};
	double values[SHOTS_MAX], sorted[SHOTS_MAX], doubt = 0;
	size_t n = 0;

	for (size_t i = from; i < to && n < SHOTS_MAX; i++) {
		if (!isfinite(track->rest[i]))
			continue;
		values[n++] = track->rest[i];
		doubt += track->doubt[i];
	}
	stretch.count = (int)n;
	if (n == 0)
		return stretch;
	stretch.doubt = doubt / (double)n;
	/* Mean of what lies within a few deviations of the median. */
	double median = signal_median(values, n, sorted, NULL), sum = 0;
	int kept = 0;
	for (size_t i = 0; i < n; i++)
		if (n < 5 || fabs(values[i] - median) <= OUTLIER * track->sd) {
			sum += values[i];
			kept++;
		}
	stretch.mean = kept > 0 ? sum / kept : median;
	return stretch;
}

/* Pairs of shots, one of each stretch, that lie so far apart. */
static double
pairs(const struct stretch *a, const struct stretch *b, long apart)
{
	long from = (long)b->from + apart, to = (long)b->to + apart;

	from = from > (long)a->from ? from : (long)a->from;
	to = to < (long)a->to ? to : (long)a->to;
	return to > from ? (double)(to - from) : 0;
}

/* Covariance of the means of two stretches of an AR(1) series for a variance of 1, were
 * every shot there. */
static double
covariance(const struct track *track, const struct stretch *a, const struct stretch *b)
{
	long first = (long)a->from - (long)b->to + 1,
	     last = (long)a->to - 1 - (long)b->from;
	double sum = 0;

	for (long apart = first; apart <= last; apart++)
		sum += pairs(a, b, apart) * pow(track->memory, (double)labs(apart));
	return sum / ((double)(a->to - a->from) * (double)(b->to - b->from));
}

double
stretch_level_sd(const struct track *track, const struct stretch *stretch)
{
	double fill = (double)(stretch->to - stretch->from) / stretch->count;
	return sqrt(track->sd * track->sd * covariance(track, stretch, stretch) * fill +
		    stretch->doubt * stretch->doubt);
}

double
stretch_step_sd(
    const struct track *track, const struct stretch *a, const struct stretch *b)
{
	double fill_a = (double)(a->to - a->from) / a->count;
	double fill_b = (double)(b->to - b->from) / b->count;
	double variance = covariance(track, a, a) * fill_a +
	                  covariance(track, b, b) * fill_b -
	                  2 * covariance(track, a, b);
	double doubt = fabs(a->doubt - b->doubt);
	return sqrt(
	    track->step_sd * track->step_sd * fmax(variance, 0.02) + doubt * doubt);
}
