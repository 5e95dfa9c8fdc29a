/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/autocorrelation.h"

#include <math.h>

double
autocorrelation_lag1(const struct series *series, double mean)
{
	double products = 0, squares = 0;
	size_t n = 0, pairs = 0;

	for (size_t i = 0; i < series->count; i++) {
		double off = series->values[i] - mean;
		if (!isfinite(off))
			continue;
		n++;
		squares += off * off;
		if (i > 0 && series_neighbours(series, i)) {
			pairs++;
			products += off * (series->values[i - 1] - mean);
		}
	}
	if (pairs == 0 || !(squares > 0))
		return NAN;
	return products / squares * (double)(n - 1) / (double)pairs;
}

double
autocorrelation_unbiased(double r1, size_t n)
{
	return r1 + (1 + 4 * r1) / (double)n;
}

double
autocorrelation_bound(size_t n)
{
	return n > 0 ? 1.96 / sqrt((double)n) : NAN;
}

/* Powers below it are nothing beside 1. */
#define NOTHING 1e-18

/* The sum of row i of the correlations: both geometric series and the 1 between them. */
static double
row_sum(double phi, size_t n, size_t i)
{
	double left = (1 - pow(phi, (double)i)) / (1 - phi);
	double right = (1 - pow(phi, (double)(n - 1 - i))) / (1 - phi);

	return 1 + phi * (left + right);
}

/*
 * With R the matrix of correlations phi^|i-j| and A = I - 11'/n:
 * (n-1) s^2 = x'Ax, so E = tr(AR) / (n-1) and Var = 2 tr(ARAR) / (n-1)^2.
 */
struct ar1_moments
ar1_moments(double phi, size_t n)
{
	double count = (double)n, trace_r2 = count, power = phi;
	size_t edge = 0; /* rows that feel an end of the series; the others are alike */

	for (size_t k = 1; k < n && fabs(power) > NOTHING; k++) {
		trace_r2 += 2 * (count - (double)k) * power * power;
		power *= phi;
		edge = k;
	}
	edge = edge > n / 2 ? n / 2 : edge;
	double middle = row_sum(phi, n, n / 2), alike = count - 2 * (double)edge;
	double total = alike * middle, row_squares = alike * middle * middle;
	for (size_t i = 0; i < edge; i++) {
		double row = row_sum(phi, n, i);
		total += 2 * row;
		row_squares += 2 * row * row;
	}
	double trace_arar =
	    trace_r2 - 2 * row_squares / count + total * total / (count * count);
	return (struct ar1_moments){
	    .variance_of_mean = total / (count * count),
	    .expected_s2 = (count - total / count) / (count - 1),
	    .variance_of_s2 = 2 * trace_arar / ((count - 1) * (count - 1)),
	};
}
