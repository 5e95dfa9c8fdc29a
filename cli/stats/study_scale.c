/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/study_scale.h"

#include <float.h>
#include <math.h>

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

/* Within 2^-200 ... 2^200 squares and their sums are far from the ends of the range. */
enum { EXPONENT_USUAL = 200 };

int
study_scale(const struct series *series)
{
	double largest = 0;
	int exponent;

	for (size_t i = 0; i < series->count; i++)
		if (isfinite(series->values[i]))
			largest = fmax(largest, fabs(series->values[i]));
	frexp(largest, &exponent);
	return exponent > EXPONENT_USUAL || exponent < -EXPONENT_USUAL ? exponent : 0;
}

/* Known ones that leave the range stay known: nothing is near them. */
static double
known(double value, int exponent)
{
	double scaled = ldexp(value, -exponent);

	return isfinite(value) ? fmax(fmin(scaled, DBL_MAX / 16), -DBL_MAX / 16)
	                       : value;
}

struct study_asked
study_scale_asked(const struct study_asked *asked, int exponent, double *values)
{
	struct study_asked scaled = *asked;

	for (size_t i = 0; i < asked->series.count; i++)
		values[i] = ldexp(asked->series.values[i], -exponent);
	scaled.series.values = values;
	scaled.lower = ldexp(asked->lower, -exponent);
	scaled.upper = ldexp(asked->upper, -exponent);
	scaled.target = ldexp(asked->target, -exponent);
	scaled.centre = known(asked->centre, exponent);
	scaled.sigma = known(asked->sigma, exponent);
	return scaled;
}

static void
back(double *value, int exponent)
{
	double told = ldexp(*value, exponent);

	*value = isfinite(told) ? told : NAN;
}

static void
limits_back(struct control_limits *limits, int exponent)
{
	back(&limits->low, exponent);
	back(&limits->centre, exponent);
	back(&limits->high, exponent);
}

static void
quantiles_back(struct quantiles *quantiles, int exponent)
{
	back(&quantiles->x00135, exponent);
	back(&quantiles->x50, exponent);
	back(&quantiles->x99865, exponent);
}

static void
subgroups_back(struct subgroups *subgroups, int exponent)
{
	double *const all[] = {&subgroups->grand_mean, &subgroups->mean_range,
	    &subgroups->mean_sd, &subgroups->pooled_sd, &subgroups->sigma_range,
	    &subgroups->sigma_sd, &subgroups->sigma_pooled};

	for (size_t i = 0; i < LENGTH(all); i++)
		back(all[i], exponent);
	limits_back(&subgroups->mean_by_range, exponent);
	limits_back(&subgroups->range, exponent);
	limits_back(&subgroups->mean_by_sd, exponent);
	limits_back(&subgroups->sd, exponent);
}

static void
fits_back(struct fits *fits, size_t n, int exponent)
{
	for (size_t i = 0; i < fits->count; i++) {
		struct fit *fit = &fits->list[i];
		family_scale(fit->family, fit->parameters, exponent);
		fit->log_likelihood -= (double)n * exponent * M_LN2;
		for (int k = 0; k < FAMILY_PARAMETERS; k++)
			back(&fit->parameters[k], 0);
		quantiles_back(&fit->quantiles, exponent);
	}
}

static void
describing_back(struct study *study, int exponent)
{
	struct description *d = &study->described;
	struct capability *c = &study->c;
	struct moving_ranges *m = &study->moving;
	double *const all[] = {&d->min, &d->max, &d->mean, &d->median, &d->sd, &c->mean,
	    &c->sd, &c->min, &c->max, &c->sd_within, &m->mean, &m->median, &m->max,
	    &m->sigma, &m->sigma_from_median, &study->sigma_within, &study->step,
	    &study->rounding, &study->outlying.mean, &study->outlying.sd};

	for (size_t i = 0; i < LENGTH(all); i++)
		back(all[i], exponent);
	for (size_t i = 0; i < d->n; i++)
		study->sorted[i] = ldexp(study->sorted[i], exponent);
	quantiles_back(&study->quantiles, exponent);
	limits_back(&study->individuals, exponent);
	subgroups_back(&study->subgroups, exponent);
	fits_back(&study->fits, d->n, exponent);
}

static void
charts_back(struct study *study, int exponent)
{
	struct ewma *ewma = &study->ewma;
	struct cusum *cusum = &study->cusum;
	struct onset *onset = &study->onset;
	double *const all[] = {&study->centre, &study->sigma, &ewma->last, &ewma->max,
	    &ewma->low, &ewma->high, &cusum->high_last, &cusum->high_max,
	    &cusum->low_last, &cusum->low_max, &onset->before, &onset->after,
	    &study->steady.low, &study->steady.high};

	for (size_t i = 0; i < LENGTH(all); i++)
		back(all[i], exponent);
}

void
study_scale_back(struct study *study, const struct study_asked *asked, int exponent)
{
	describing_back(study, exponent);
	charts_back(study, exponent);
	study->lower = asked->lower;
	study->upper = asked->upper;
	study->target = asked->target;
	double size = study->subgroups.size ? (double)study->subgroups.size : 1;
	if (isfinite(asked->centre))
		study->centre = asked->centre;
	if (isfinite(asked->sigma))
		study->sigma = asked->sigma / sqrt(size);
}
