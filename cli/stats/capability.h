/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Capability and performance indices of one characteristic in one population.
 *
 * "within" uses the deviation from shot to shot (mean moving range / d2(2)) and
 * gives Cp, Cpl, Cpu, Cpk; "overall" uses the sample deviation and gives Pp, Ppl,
 * Ppu, Ppk (names as in ISO 22514-2).  Whatever is not defined is NAN: Cp with one
 * limit, anything without variation.  Nothing here judges stability.
 * Pure; any thread.  Values and limits in one unit, any.
 */
#ifndef CLI_STATS_CAPABILITY_H
#define CLI_STATS_CAPABILITY_H

#include "cli/stats/autocorrelation.h"

enum {
	CAPABILITY_LEAST = 25,   /* values under which nothing is quoted */
	CAPABILITY_DISTINCT = 5, /* distinct values that a resolution must give */
	CAPABILITY_MISSING_PERCENT = 10, /* more missing than this: nothing is quoted */
	CAPABILITY_LEAST_EFFECTIVE = 12, /* worth fewer: no overall interval */
};

/* Whether an index may be shown to people, and if not, the first reason. */
enum capability_verdict {
	CAPABILITY_QUOTABLE,
	CAPABILITY_NO_LIMIT,
	CAPABILITY_TOO_FEW,        /* n < CAPABILITY_LEAST */
	CAPABILITY_MUCH_MISSING,   /* of the series, more than 10 % */
	CAPABILITY_COARSE,         /* the resolution gives too few distinct values */
	CAPABILITY_FEW_NEIGHBOURS, /* within only: too few moving ranges */
	CAPABILITY_AUTOCORRELATED, /* within only: |r1| beyond its bound */
};

/*
 * What the dependence that r1 shows does to the overall intervals.  They are widened for a
 * coefficient 1.25 standard errors above the estimate: by the estimate itself the one-sided
 * bounds of 160 values with 0.8 held in 0.89 to 0.92.  By simulation (4000 Gaussian AR(1) series
 * each, r1 estimated from the series, indices of 1 and 1.33): of 160 and 300 values with
 * coefficients of 0.3 to 0.8 the two-sided intervals hold the true index in 0.96 to 0.975, the lower
 * bound lies below it in 0.950 to 0.962, the upper bound above it in 0.96 and more; of 50 values with
 * 0.3 and 0.5 the first two hold in 0.946 to 0.955 and in 0.930 to 0.938.
 * Series worth fewer than 12 independent values get none.  That is held to the estimate: of 50
 * values with 0.8 (worth 6) one series in ten passes with an r1 low by chance, and a third to a half
 * of those intervals miss.
 * A dependence that r1 does not show is not allowed for: n = 30 often hides 0.5.
 */
enum capability_memory {
	CAPABILITY_NONE_SEEN, /* the intervals are those of independent values */
	CAPABILITY_WIDENED,
	CAPABILITY_TOO_DEPENDENT, /* n_effective < CAPABILITY_LEAST_EFFECTIVE: NAN */
};

struct interval {
	double low, high;
};

struct capability_index {
	double p, pl, pu, pk;        /* Cp, Cpl, Cpu, Cpk or Pp, Ppl, Ppu, Ppk */
	struct interval p_95, pk_95; /* two-sided, 95 % */
	enum capability_verdict verdict;
};

struct capability {
	size_t n, missing, below, above; /* below and above: outside the limits */
	size_t neighbours;               /* pairs: the moving ranges there are */
	size_t
	    distinct; /* values inside the limits, counted up to CAPABILITY_DISTINCT */
	double mean, sd, min, max;
	double sd_within;
	double r1, r1_bound; /* by the pairs that there are: autocorrelation.h */
	/* The textbook's, which takes no account of missing pairs: the sum over neighbours of
	 * (x_i - m)(x_i+1 - m) / sum (x_i - m)^2, and 1.96 / sqrt(n).  Nothing rests on it. */
	double lag1, lag1_bound;
	double n_effective; /* independent values whose mean would be as uncertain */
	enum capability_memory memory;
	struct capability_index within, overall;
	double ppk_least; /* one-sided 95 % lower bound of Ppk; normal when widened */
	double ppk_most;  /* one-sided 95 % upper bound: see capability_most_pk_df */
};

/* lower, upper: NAN for none. */
struct capability capability_of(
    const struct series *series, double lower, double upper);

/* room / reach, or NAN where that is no number: without a limit, without scatter, or where
 * either leaves the range of doubles. */
double capability_ratio(double room, double reach);

/*
 * 95 % two-sided interval of Cp or Pp whose deviation has `df` degrees of freedom:
 * chi-square, exact for the sample deviation (df = n - 1).
 */
struct interval capability_interval_p(double p, double df);

/*
 * 95 % two-sided interval of Cpk or Ppk: A. F. Bissell, How reliable is your capability
 * index?, Applied Statistics 39:331-340, 1990; `variance_of_mean` in units of the
 * variance of one value: 1/n for independent values.
 */
struct interval capability_interval_pk(double pk, double variance_of_mean, double df);

/* One-sided 95 % lower bound of Ppk from n independent values, through the noncentral t:
 * exact for one limit or off centre, on the safe side for two limits and a centred mean. */
double capability_least_pk(double pk, size_t n);
/* The same of an index whose deviation has other degrees of freedom. */
double capability_least_pk_df(double pk, size_t n, double df);

/* One-sided 95 % upper bound.  With both limits either may be the one that binds: each has half
 * of the 5 %, and the bound is on the safe side. */
double capability_most_pk_df(double pk, size_t n, double df, bool both_limits);

/* The index that n independent values must show for capability_least_pk to be `required`. */
double capability_needed_pk(double required, size_t n);

/* Degrees of freedom of mean moving range / d2(2) with `neighbours` moving ranges in a
 * row, independent normal values: about 0.6 for each. */
double capability_within_df(size_t neighbours);

#endif
