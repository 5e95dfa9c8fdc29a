/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/anderson_darling.h"

#include <gsl/gsl_sf_erf.h>
#include <math.h>

/* What a tail below every double counts as: the logarithm of the smallest. */
#define LOG_LEAST (-745.0)

struct log_tails
anderson_darling_normal(double z)
{
	return (struct log_tails){gsl_sf_log_erfc(-z * M_SQRT1_2) - M_LN2,
	    gsl_sf_log_erfc(z * M_SQRT1_2) - M_LN2};
}

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

/* Newton's parabola through three points, or the line where two of them are one. */
struct parabola {
	double x[2], start, slope, bend;
};

static struct parabola
parabola_through(const double x[static 3], const double y[static 3])
{
	struct parabola p = {{x[0], x[1]}, y[0], 0, 0};

	if (x[2] > x[0])
		p.slope = (y[2] - y[0]) / (x[2] - x[0]);
	if (x[1] > x[0] && x[2] > x[1]) {
		double first = (y[1] - y[0]) / (x[1] - x[0]);
		double second = (y[2] - y[1]) / (x[2] - x[1]);
		p.slope = first;
		p.bend = (second - first) / (x[2] - x[0]);
	}
	return p;
}

static double
parabola_at(const struct parabola *p, double x)
{
	return p->start + (x - p->x[0]) * (p->slope + (x - p->x[1]) * p->bend);
}

static double
sum_between(const double *sorted, size_t n, size_t from, size_t to,
    const struct anderson_darling_target *target)
{
	double x[3] = {sorted[from], sorted[(from + to) / 2], sorted[to]};
	double below[3], above[3], sum = 0;

	for (size_t i = 0; i < 3; i++) {
		struct log_tails tails = tails_at(target, x[i]);
		below[i] = tails.below;
		above[i] = tails.above;
	}
	struct parabola under = parabola_through(x, below);
	struct parabola over = parabola_through(x, above);
	for (size_t i = from; i < to; i++) {
		struct log_tails tails = {
		    parabola_at(&under, sorted[i]), parabola_at(&over, sorted[i])};
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
