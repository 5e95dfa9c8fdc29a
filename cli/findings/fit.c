/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/profile.h"

#include "cli/stats/autocorrelation.h"

#include <math.h>
#include <stdlib.h>

enum { ROUNDS = 4 };

#define OUTLIER 5.0      /* sd of the median: such a shot teaches nothing */
#define COVERAGE 0.8     /* of the shots must have a circumstance */
#define MAD_TO_SD 1.4826 /* of a normal distribution */

struct work {
	int signal;
	const struct signal_values *values;
	size_t count;
	double *rest; /* NAN: absent or left out */
	double *size, *sorted;
};

static double
value_of(const struct work *work, size_t i)
{
	return work->values[i].signal[work->signal];
}

/* A missing circumstance counts as the usual one. */
static double
circumstance_of(const struct fit *fit, const struct follows *follows, int j,
    const struct signal_values *values)
{
	double x = values->circumstance[follows[j].what];
	return isfinite(x) ? x - fit->centre[j] : 0;
}

static void
centre_circumstances(
    struct fit *fit, const struct follows *follows, const struct work *work)
{
	for (int j = 0; j < FOLLOWS_MAX; j++) {
		double sum = 0, squares = 0;
		size_t n = 0;
		for (size_t i = 0; i < work->count; i++) {
			double x = work->values[i].circumstance[follows[j].what];
			if (!isfinite(x) || !isfinite(value_of(work, i)))
				continue;
			n++;
			sum += x;
			squares += x * x;
		}
		fit->used[j] = follows[j].what != CIRCUMSTANCE_NONE &&
		               (double)n >= COVERAGE * fit->count && n > 1;
		fit->centre[j] = n > 0 ? sum / (double)n : 0;
		fit->spread[j] =
		    n > 0 ? sqrt(fmax(0,
				squares / (double)n - fit->centre[j] * fit->centre[j]))
			  : 0;
	}
}

/* Inverts a symmetric positive definite matrix in place (Gauss-Jordan; at most four
 * rows, each with a prior on its diagonal, so no pivot is zero). */
static void
invert(double a[FOLLOWS_MAX][FOLLOWS_MAX])
{
	for (int k = 0; k < FOLLOWS_MAX; k++) {
		double pivot = a[k][k];
		a[k][k] = 1;
		for (int j = 0; j < FOLLOWS_MAX; j++)
			a[k][j] /= pivot;
		for (int i = 0; i < FOLLOWS_MAX; i++) {
			if (i == k)
				continue;
			double factor = a[i][k];
			a[i][k] = 0;
			for (int j = 0; j < FOLLOWS_MAX; j++)
				a[i][j] -= factor * a[k][j];
		}
	}
}

/* The slopes, given the mean and the noise: least squares with a normal prior on each
 * (ridge regression towards the prior's mean). */
static void
solve(struct fit *fit, const struct follows *follows, const struct work *work)
{
	double a[FOLLOWS_MAX][FOLLOWS_MAX] = {{0}}, b[FOLLOWS_MAX] = {0};
	double information =
	    (1 - fit->memory) / (1 + fit->memory) / (fit->sd * fit->sd);

	for (size_t i = 0; i < work->count; i++) {
		if (!isfinite(work->rest[i]))
			continue;
		for (int j = 0; j < FOLLOWS_MAX; j++) {
			if (!fit->used[j])
				continue;
			double x = circumstance_of(fit, follows, j, work->values + i);
			b[j] += information * x * (value_of(work, i) - fit->mean);
			for (int k = 0; k < FOLLOWS_MAX; k++)
				if (fit->used[k])
					a[j][k] += information * x *
					           circumstance_of(fit, follows, k,
						       work->values + i);
		}
	}
	for (int j = 0; j < FOLLOWS_MAX; j++) {
		double prior =
		    fit->used[j] ? 1 / (follows[j].slope_sd * follows[j].slope_sd) : 1;
		a[j][j] += prior;
		b[j] += fit->used[j] ? prior * follows[j].slope : 0;
	}
	invert(a);
	for (int j = 0; j < FOLLOWS_MAX; j++) {
		fit->slope[j] = 0;
		for (int k = 0; k < FOLLOWS_MAX; k++) {
			fit->covariance[j][k] =
			    fit->used[j] && fit->used[k] ? a[j][k] : 0;
			fit->slope[j] += fit->used[j] ? a[j][k] * b[k] : 0;
		}
	}
}

static double
plain_rest(const struct fit *fit, const struct follows *follows,
    const struct work *work, size_t i)
{
	double rest = value_of(work, i);

	for (int j = 0; j < FOLLOWS_MAX; j++)
		if (fit->used[j])
			rest -= fit->slope[j] *
			        circumstance_of(fit, follows, j, work->values + i);
	return rest;
}

/* Rests about their mean without the odd shots; mean, sd and memory of them. */
static void
measure(struct fit *fit, const struct follows *follows, const struct work *work)
{
	double sum = 0, squares = 0;
	size_t n = 0;

	for (size_t i = 0; i < work->count; i++)
		work->rest[i] = plain_rest(fit, follows, work, i);
	double median = signal_median(work->rest, work->count, work->sorted, NULL);
	for (size_t i = 0; i < work->count; i++)
		work->size[i] = fabs(work->rest[i] - median);
	/* A signal that hardly ever differs has a median deviation of 0. */
	double limit = OUTLIER * MAD_TO_SD *
	               signal_median(work->size, work->count, work->sorted, NULL);
	for (size_t i = 0; i < work->count; i++) {
		if (!isfinite(work->rest[i]))
			continue;
		if (limit > 0 && work->size[i] > limit) {
			work->rest[i] = NAN;
			continue;
		}
		n++;
		sum += work->rest[i];
	}
	fit->mean = sum / (double)n;
	for (size_t i = 0; i < work->count; i++) {
		if (!isfinite(work->rest[i]))
			continue;
		work->rest[i] -= fit->mean;
		squares += work->rest[i] * work->rest[i];
	}
	fit->count = (int)n;
	fit->sd = sqrt(squares / (double)(n > 1 ? n - 1 : 1));
	struct series series = {work->rest, NULL, work->count};
	double r1 = autocorrelation_unbiased(autocorrelation_lag1(&series, 0), n);
	fit->memory = isfinite(r1) ? fmin(fmax(r1, 0), 0.95) : 0;
}

/* A deviation of 0 is a figure that was not read finely enough: a part of what is worth
 * a word stands in for it. */
static double
sd_at_least(double sd, double least)
{
	return fmax(sd, least / 8);
}

static void
fit(struct fit *fit, struct work *work)
{
	const struct signal_row *row = signal_row(work->signal);

	for (size_t i = 0; i < work->count; i++) {
		work->rest[i] = value_of(work, i);
		fit->count += isfinite(work->rest[i]);
	}
	if (fit->count < PROFILE_SHOTS_MIN)
		return;
	centre_circumstances(fit, row->follows, work);
	for (int round = 0; round < ROUNDS; round++) {
		measure(fit, row->follows, work);
		fit->sd = sd_at_least(fit->sd, row->least);
		solve(fit, row->follows, work);
	}
	measure(fit, row->follows, work);
	double effective = fmax(2, fit->count * (1 - fit->memory) / (1 + fit->memory));
	fit->plain_sd = sd_at_least(fit->sd, row->least);
	fit->sd = fit->plain_sd * (1 + 1 / sqrt(2 * effective));
	fit->mean_sd = fit->sd / sqrt(effective);
	fit->known = isfinite(fit->mean) && isfinite(fit->sd);
}

bool
fit_signal(
    struct fit *fitted, int signal, const struct signal_values *values, size_t count)
{
	double *room = malloc(3 * (count + 1) * sizeof(double));
	struct work work = {signal, values, count, room, NULL, NULL};

	*fitted = (struct fit){0};
	if (!room)
		return false;
	work.size = room + count;
	work.sorted = work.size + count;
	fit(fitted, &work);
	free(room);
	return true;
}

/* What a circumstance that the reference does not measure may do to the level of a
 * signal: sheets start warmer or colder by some kelvin with the hours and the seasons
 * (common practice, no source).  What wanders within a shift is in the reference's
 * scatter already. */
static double
unseen(const struct follows *follows)
{
	const double stack_sd_c = 4;

	return follows->what == CIRCUMSTANCE_STACK
	           ? (fabs(follows->slope) + follows->slope_sd) * stack_sd_c
	           : 0;
}

struct rest
profile_rest(
    const struct profile *profile, int signal, const struct signal_values *values)
{
	const struct fit *fit = profile->fits + signal;
	const struct follows *follows = signal_row(signal)->follows;
	double x[FOLLOWS_MAX], value = values->signal[signal] - fit->mean;
	double variance = fit->mean_sd * fit->mean_sd;

	if (!fit->known || !isfinite(value))
		return (struct rest){NAN, NAN};
	for (int j = 0; j < FOLLOWS_MAX; j++) {
		x[j] = fit->used[j] ? circumstance_of(fit, follows, j, values) : 0;
		value -= fit->slope[j] * x[j];
		double unknown = fit->slope[j] * fit->spread[j];
		if (!fit->used[j])
			unknown = unseen(follows + j);
		if (!fit->used[j] || !isfinite(values->circumstance[follows[j].what]))
			variance += unknown * unknown;
	}
	for (int j = 0; j < FOLLOWS_MAX; j++)
		for (int k = 0; k < FOLLOWS_MAX; k++)
			variance += x[j] * fit->covariance[j][k] * x[k];
	return (struct rest){value, sqrt(variance)};
}
