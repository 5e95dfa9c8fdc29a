/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/anderson_darling.h"

#include <math.h>

/* What a tail below every double counts as: the logarithm of the smallest. */
#define LOG_LEAST (-745.0)

static struct log_tails
tails_at(const struct anderson_darling_target *target, double x)
{
	struct log_tails tails = target->log_tails(x, target->context);

	return (struct log_tails){
	    isinf(tails.below) ? LOG_LEAST : tails.below,
	    isinf(tails.above) ? LOG_LEAST : tails.above,
	};
}

/* A2 = -n - 1/n sum (2i - 1) (log F(x_i) + log(1 - F(x_(n+1-i)))): value i (from 1) has the
 * weight 2i - 1 below it and 2 (n - i) + 1 above it. */
static double
weighed(const struct log_tails *tails, double i, double n)
{
	return (2 * i - 1) * tails->below + (2 * (n - i) + 1) * tails->above;
}

static double
sum_exact(const double *sorted, size_t n, size_t from, size_t to,
    const struct anderson_darling_target *target)
{
	double sum = 0;

	for (size_t i = from; i < to; i++) {
		struct log_tails tails = tails_at(target, sorted[i]);
		sum += weighed(&tails, (double)i + 1, (double)n);
	}
	return sum;
}

static double
sum_between(const double *sorted, size_t n, size_t from, size_t to,
    const struct anderson_darling_target *target)
{
	struct log_tails first = tails_at(target, sorted[from]);
	struct log_tails last = tails_at(target, sorted[to]);
	double width = sorted[to] - sorted[from], sum = 0;

	for (size_t i = from; i < to; i++) {
		double share = width > 0 ? (sorted[i] - sorted[from]) / width : 0;
		struct log_tails tails = {
		    first.below + share * (last.below - first.below),
		    first.above + share * (last.above - first.above)};
		sum += weighed(&tails, (double)i + 1, (double)n);
	}
	return sum;
}

double
anderson_darling(
    const double *sorted, size_t n, const struct anderson_darling_target *target)
{
	double sum, size = (double)n;

	if (n <= ANDERSON_DARLING_EXACT) {
		sum = sum_exact(sorted, n, 0, n, target);
	} else {
		size_t step = n / ANDERSON_DARLING_KNOTS, at;
		size_t ends = n / 100 < 2000 ? n / 100 : 2000;

		/* The log of a tail bends where the tail is thin. */
		sum = sum_exact(sorted, n, 0, ends, target);
		for (at = ends; at + step < n - ends; at += step)
			sum += sum_between(sorted, n, at, at + step, target);
		sum += sum_exact(sorted, n, at, n, target);
	}
	return -size - sum / size;
}
