/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/normality.h"

#include "cli/stats/anderson_darling.h"

#include <math.h>

struct standard {
	double mean, sd;
};

static struct log_tails
standard_tails(double x, void *context)
{
	const struct standard *standard = context;

	return anderson_darling_normal((x - standard->mean) / standard->sd);
}

double
normality_p(double a)
{
	if (a < 0.2)
		return -expm1(-13.436 + 101.14 * a - 223.73 * a * a);
	if (a < 0.34)
		return -expm1(-8.318 + 42.796 * a - 59.938 * a * a);
	if (a < 0.6)
		return exp(0.9177 - 4.279 * a - 1.38 * a * a);
	if (a > NORMALITY_A2_MOST)
		return NORMALITY_LEAST_P;
	return fmax(exp(1.2937 - 5.709 * a + 0.0186 * a * a), NORMALITY_LEAST_P);
}

struct normality
normality_of(const double *sorted, size_t n, double mean, double sd)
{
	struct standard standard = {mean, sd};
	struct anderson_darling_target target = {standard_tails, &standard};
	struct normality normality = {NAN, NAN, NAN, false};

	if (n < NORMALITY_LEAST || !(sd > 0) || !isfinite(sd) || !isfinite(mean))
		return normality;
	double size = (double)n, a2 = anderson_darling(sorted, n, &target);
	if (!isfinite(a2))
		return normality;
	normality.a2 = a2;
	normality.a2_adjusted = a2 * (1 + 0.75 / size + 2.25 / (size * size));
	normality.p = normality_p(normality.a2_adjusted);
	normality.p_below = normality.p <= NORMALITY_LEAST_P;
	return normality;
}
