/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/heat/diffusivity.h"

#include <math.h>
#include <stdlib.h>

#include "daemon/base/error.h"
#include "daemon/heat/substance.h"

enum {
	LEAST_READINGS = 5,
	HALF_GRID =
	    8, /* the first look: to a tenth and to ten times, in equal ratios */
	GRID = 2 * HALF_GRID,
	ITERATIONS = 60, /* of Gauss and Newton's steps */
};
#define LEAST_RISE_DC 1.0 /* less tells nothing; common practice, no source */
#define DONE 1e-6         /* of the logarithm of the factor */
#define SHIFT 1e-3        /* of it, for the slope of the prediction */

/* One run with a factor, looked at where the readings are. */
struct trial {
	const struct soak_case *soak;
	const struct soak_history *inside;
	double depth;      /* in nodes from the top face */
	size_t first, end; /* the readings within the case's time */
	double *predicted; /* room for three times as many as there are readings */
	/* on the way */
	size_t next;
	double before_s, before_c;
};

static void
look(void *arg, double s, const double c[SOAK_NODES])
{
	struct trial *trial = arg;
	const double *at_s = trial->inside->s;
	int node = (int)fmin(floor(trial->depth), SOAK_NODES - 2);
	double now_c = c[node] + (c[node + 1] - c[node]) * (trial->depth - node);

	for (; trial->next < trial->end && at_s[trial->next] <= s; trial->next++)
		trial->predicted[trial->next] =
		    trial->before_c + (now_c - trial->before_c) *
					  (at_s[trial->next] - trial->before_s) /
					  (s - trial->before_s);
	trial->before_s = s;
	trial->before_c = now_c;
}

/* Fills `predicted` and returns the sum of squares. */
static double
predict(struct trial *trial, double log_factor)
{
	struct soak_watch watch = {look, trial};
	struct substance substance = *trial->soak->substance;
	struct soak_case soak = *trial->soak;
	struct soak_result result;
	double sum = 0;

	substance.conductivity_scale *= exp(log_factor);
	soak.substance = &substance;
	trial->next = trial->first;
	trial->before_s = soak.stretches[0].from_s;
	trial->before_c = soak.start_c;
	if (soak_follow(&soak, &watch, &result, NULL))
		return NAN;
	/* The last step ends a rounding before or after the case does. */
	for (; trial->next < trial->end; trial->next++)
		trial->predicted[trial->next] = trial->before_c;
	for (size_t i = trial->first; i < trial->end; i++) {
		double off = trial->inside->c[i] - trial->predicted[i];

		sum += off * off;
	}
	return sum;
}

static int
refuse_minimum(struct error *error)
{
	return error_set(error, ERROR_INVALID,
	    "no diffusivity between a tenth and ten times the first guess fits best: "
	    "look at the thickness, the depth and the times");
}

/* Gauss and Newton's step from here: what is left, projected on how steeply the
 * predictions go with the logarithm of the factor.  Leaves the predictions here, and the
 * sum of the slopes' squares in `squares`. */
static double
find_step(struct trial *trial, double log_factor, double *squares)
{
	double *here = trial->predicted, *above = here + trial->inside->count;
	double *below = above + trial->inside->count, along = 0;

	trial->predicted = above;
	predict(trial, log_factor + SHIFT);
	trial->predicted = below;
	predict(trial, log_factor - SHIFT);
	trial->predicted = here;
	predict(trial, log_factor);
	*squares = 0;
	for (size_t i = trial->first; i < trial->end; i++) {
		double slope = (above[i] - below[i]) / (2 * SHIFT);

		along += slope * (trial->inside->c[i] - here[i]);
		*squares += slope * slope;
	}
	return *squares > 0 ? along / *squares : 0;
}

/* The best of a grid, then Gauss and Newton's steps between its neighbours. */
static int
minimise(struct trial *trial, double *log_factor, struct error *error)
{
	double part = log(10) / HALF_GRID, sum[GRID + 1], squares;
	int best = 0;

	for (int i = 0; i <= GRID; i++) {
		sum[i] = predict(trial, (i - HALF_GRID) * part);
		if (sum[i] < sum[best])
			best = i;
	}
	if (best == 0 || best == GRID || !(sum[best] < sum[best - 1]) ||
	    !(sum[best] < sum[best + 1]))
		return refuse_minimum(error);
	best -= HALF_GRID;
	*log_factor = best * part;
	for (int i = 0; i < ITERATIONS; i++) {
		double step = find_step(trial, *log_factor, &squares);
		double next = fmin(
		    fmax(*log_factor + step, (best - 1) * part), (best + 1) * part);

		step = next - *log_factor;
		*log_factor = next;
		if (fabs(step) < DONE)
			return 0;
	}
	return refuse_minimum(error);
}

static double
neighbours_correlation(const struct trial *trial)
{
	double sum = 0, square = 0, before = 0;

	for (size_t i = trial->first; i < trial->end; i++) {
		double off = trial->inside->c[i] - trial->predicted[i];

		sum += i > trial->first ? off * before : 0;
		square += off * off;
		before = off;
	}
	return square > 0 ? sum / square : 0;
}

static void
tell(struct trial *trial, double log_factor, struct diffusivity_fit *fit)
{
	const struct substance *substance = trial->soak->substance;
	double factor = exp(log_factor), sum = 0, high_c = trial->soak->start_c,
	       squares;

	find_step(trial, log_factor, &squares);
	for (size_t i = trial->first; i < trial->end; i++) {
		double off = trial->inside->c[i] - trial->predicted[i];

		sum += off * off;
		high_c = fmax(high_c, trial->inside->c[i]);
	}
	fit->count = trial->end - trial->first;
	fit->diffusivity =
	    factor * substance_diffusivity(substance, trial->soak->start_c, high_c);
	fit->factor = substance->material ? factor : 1;
	fit->residual_dc = sqrt(sum / (double)(fit->count - 1));
	fit->correlation = neighbours_correlation(trial);
	fit->standard_error = fit->diffusivity * fit->residual_dc / sqrt(squares);
}

static int
check(const struct soak_case *soak, const struct soak_history *inside, double depth,
    struct error *error)
{
	if (!(depth > 0 && depth < 1))
		return error_set(error, ERROR_INVALID,
		    "the depth is %g of the thickness, must be between 0 and 1", depth);
	for (size_t i = 0; i < soak->stretch_count && i < SOAK_STRETCHES; i++)
		if (soak->stretches[i].boundary != SOAK_SURFACES)
			return error_set(error, ERROR_INVALID,
			    "a diffusivity is found between measured surfaces only");
	for (size_t i = 0; i < inside->count; i++)
		if (!isfinite(inside->s[i]) || !isfinite(inside->c[i]) ||
		    (i > 0 && !(inside->s[i] > inside->s[i - 1])))
			return error_set(error, ERROR_INVALID,
			    "reading %zu inside the sheet is no number, or its time "
			    "does not go up",
			    i + 1);
	return 0;
}

/* The readings within the case's time; what they must be. */
static int
choose(struct trial *trial, struct error *error)
{
	const struct soak_case *soak = trial->soak;
	const struct soak_history *inside = trial->inside;
	double low_c = INFINITY, high_c = -INFINITY;
	size_t end = inside->count;

	trial->first = 0;
	while (
	    trial->first < end && inside->s[trial->first] < soak->stretches[0].from_s)
		trial->first++;
	while (end > trial->first &&
	       inside->s[end - 1] > soak->stretches[soak->stretch_count - 1].to_s)
		end--;
	trial->end = end;
	if (end - trial->first < LEAST_READINGS)
		return error_set(error, ERROR_INVALID,
		    "%zu readings inside the sheet while it was heated, at least %d "
		    "are "
		    "needed",
		    end - trial->first, LEAST_READINGS);
	for (size_t i = trial->first; i < end; i++) {
		low_c = fmin(low_c, inside->c[i]);
		high_c = fmax(high_c, inside->c[i]);
	}
	if (!(high_c - low_c > LEAST_RISE_DC))
		return error_set(error, ERROR_INVALID,
		    "the inside of the sheet did not get warmer: its readings tell "
		    "nothing");
	return 0;
}

int
diffusivity_fit(const struct soak_case *soak, const struct soak_history *inside,
    double depth, struct diffusivity_fit *fit, struct error *error)
{
	struct trial trial = {
	    .soak = soak, .inside = inside, .depth = depth * (SOAK_NODES - 1)};
	struct soak_result result;
	double log_factor = 0, *room;
	int failed = check(soak, inside, depth, error);

	if (!failed)
		failed = soak_follow(soak, NULL, &result, error);
	if (!failed)
		failed = choose(&trial, error);
	if (failed)
		return failed;
	room = calloc(3 * inside->count, sizeof *room);
	if (!room)
		return error_set(error, ERROR_MEMORY, "out of memory");
	trial.predicted = room;
	failed = minimise(&trial, &log_factor, error);
	if (!failed)
		tell(&trial, log_factor, fit);
	free(room);
	return failed;
}
