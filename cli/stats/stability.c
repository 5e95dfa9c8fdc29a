/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/stability.h"

#include "cli/stats/ewma.h"
#include "cli/stats/stability_table.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

#define LAMBDA 0.2
/* Of each of the first three tests. */
#define FALSE_ALARM (1.0 / 60)
#define ROWS (sizeof(stability_rows) / sizeof(stability_rows[0]))
#define LONGEST (sizeof(stability_longest) / sizeof(stability_longest[0]))

/* Two-sided limit that n independent values of known mean and deviation pass by chance in
 * FALSE_ALARM of series. */
static double
limit_of_known(double n)
{
	return gsl_cdf_ugaussian_Qinv(-log1p(-FALSE_ALARM) / n / 2);
}

/* Between the rows by the logarithm of n; outside them the first or the last: the share that
 * passes L then falls short of, or is above, FALSE_ALARM by less than a tenth of it. */
static struct stability_row
row_for(double n)
{
	const struct stability_row *row = stability_rows, *last = &row[ROWS - 1];

	if (n >= (double)last->n)
		return *last;
	while (n > (double)row[1].n)
		row++;
	double part = log(n / (double)row->n) / log((double)row[1].n / (double)row->n);
	part = fmax(part, 0);
	return (struct stability_row){
	    .k = row->k + part * (row[1].k - row->k),
	    .L = row->L + part * (row[1].L - row->L),
	    .c = row->c + part * (row[1].c - row->c),
	};
}

/*
 * Of n tosses of a coin, a run of r comes about n / 2^r times: what the rows know, and beyond
 * them that.
 */
static size_t
run_for(size_t n)
{
	size_t r = STABILITY_RUN_LEAST;

	for (size_t i = 0; i < LONGEST; i++, r++)
		if (n <= stability_longest[i])
			return r;
	while ((double)n > ldexp(FALSE_ALARM, (int)r) + (double)r)
		r++;
	return r;
}

struct stability_limits
stability_limits(size_t n)
{
	double known = limit_of_known((double)n);
	struct stability_row more = row_for((double)n);

	return (struct stability_limits){
	    .k = known + more.k, .r = run_for(n), .L = known + more.L, .c = more.c};
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
first_run(const struct series *series, double mean, double half, size_t length)
{
	size_t run = 0;
	int side = 0;

	for (size_t i = 0; i < series->count; i++) {
		double value = series->values[i];
		int now =
		    isfinite(value) ? (value > mean + half) - (value < mean - half) : 0;
		bool follows = i > 0 && series_neighbours(series, i);
		run = now == 0 ? 0 : now == side && follows ? run + 1 : 1;
		side = now;
		if (run >= length)
			return i + 1;
	}
	return 0;
}

/* Partial sums of the absolute deviations about their mean wander off where the scatter
 * changes: the slot after the farthest, if that lies beyond `limit`. */
static size_t
changed_scatter(const struct series *series, double mean, double limit)
{
	double middle = 0, squares = 0, n = 0, part = 0, most = 0;
	size_t slot = 0;

	for (size_t i = 0; i < series->count; i++) {
		double off = fabs(series->values[i] - mean);
		if (!isfinite(off))
			continue;
		n++;
		/* running, since a sum of squares of much alike values cancels */
		double before = off - middle;
		middle += before / n;
		squares += before * (off - middle);
	}
	double reach = limit * sqrt(squares / (n - 1) * n);
	for (size_t i = 0; i < series->count; i++) {
		double off = fabs(series->values[i] - mean);
		if (!isfinite(off))
			continue;
		part += off - middle;
		if (fabs(part) > most) {
			most = fabs(part);
			slot = i + 2;
		}
	}
	return most > reach && slot <= series->count ? slot : 0;
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
stability_of(const struct series *series, double mean, double sigma, double step)
{
	struct stability result = {.verdict = STABILITY_TOO_FEW};
	size_t n = count_values(series);

	if (n < STABILITY_LEAST)
		return result;
	result.verdict = STABILITY_NO_NEIGHBOURS;
	if (isnan(sigma) || !isfinite(mean))
		return result;
	result.limits = stability_limits(n);
	result.verdict = STABILITY_NO_VARIATION;
	if (!(sigma > 0))
		return result;
	double half = step > 0 ? step / 2 : 0;
	struct ewma_setting setting = {LAMBDA, result.limits.L};
	result.beyond = first_beyond(series, mean, result.limits.k * sigma + half);
	result.run = first_run(series, mean, half, result.limits.r);
	result.ewma = ewma_of(series, mean, sigma, &setting, NULL, NULL).first_signal;
	result.scatter = changed_scatter(series, mean, result.limits.c);
	bool fails = result.beyond || result.run || result.ewma || result.scatter;
	result.verdict = fails ? STABILITY_UNSTABLE : STABILITY_STABLE;
	return result;
}
