/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/stability.h"

#include "cli/stats/ewma.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

#define LAMBDA 0.2
/* Of each of the three tests. */
#define FALSE_ALARM (1.0 / 60)

/* Two-sided limit that n independent values of known mean and deviation pass by chance in
 * FALSE_ALARM of series. */
static double
limit_of_known(double n)
{
	return gsl_cdf_ugaussian_Qinv(-log1p(-FALSE_ALARM) / n / 2);
}

struct stability_limits
stability_limits(size_t n)
{
	double known = limit_of_known((double)n);
	size_t r = 2;

	while ((double)n > ldexp(FALSE_ALARM, (int)r) + (double)r + 14)
		r++;
	return (struct stability_limits){.k = known, .r = r, .L = known};
}

static size_t
first_beyond(const struct series *series, double mean, double reach)
{
	for (size_t i = 0; i < series->count; i++)
		if (fabs(series->values[i] - mean) > reach &&
		    isfinite(series->values[i]))
			return i + 1;
	return 0;
}

static size_t
first_run(const struct series *series, double mean, size_t length)
{
	size_t run = 0;
	int side = 0;

	for (size_t i = 0; i < series->count; i++) {
		double value = series->values[i];
		int now = isfinite(value) ? (value > mean) - (value < mean) : 0;
		bool follows = i > 0 && series_neighbours(series, i);
		run = now == 0 ? 0 : now == side && follows ? run + 1 : 1;
		side = now;
		if (run >= length)
			return i + 1;
	}
	return 0;
}

static size_t
count_values(const struct series *series)
{
	size_t n = 0;

	for (size_t i = 0; i < series->count; i++)
		n += isfinite(series->values[i]) ? 1 : 0;
	return n;
}

struct stability
stability_of(const struct series *series, double mean, double sigma)
{
	struct stability result = {.verdict = STABILITY_TOO_FEW};
	size_t n = count_values(series);

	if (n < STABILITY_LEAST)
		return result;
	result.limits = stability_limits(n);
	result.verdict = STABILITY_NO_VARIATION;
	if (!(sigma > 0) || !isfinite(mean))
		return result;
	struct ewma_setting setting = {LAMBDA, result.limits.L};
	result.beyond = first_beyond(series, mean, result.limits.k * sigma);
	result.run = first_run(series, mean, result.limits.r);
	result.ewma = ewma_of(series, mean, sigma, &setting, NULL, NULL).first_signal;
	result.verdict = result.beyond || result.run || result.ewma ? STABILITY_UNSTABLE
	                                                            : STABILITY_STABLE;
	return result;
}
