/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/likelihood.h"

#include "cli/stats/root.h"

#include <assert.h>
#include <gsl/gsl_sf_gamma.h>
#include <gsl/gsl_sf_psi.h>
#include <math.h>
#include <stdlib.h>

enum {
	VALUES_LEAST = 3,
	EXPONENT_LEAST = -960, /* about 1e-289 */
	THIN = 4096,           /* values that show where a root lies */
	FOLDED_STEPS =
	    32, /* of mu up to the mean, where that of a folded normal lies */
};

static void
gather_moments(struct likelihood_sample *s)
{
	double middle = s->sorted[s->n / 2] * s->unit, size = (double)s->n;
	double sum = 0, squares = 0, about_zero = 0, fourths = 0;

	for (size_t i = 0; i < s->n; i++) {
		double x = s->sorted[i] * s->unit, d = x - middle;
		sum += d;
		squares += d * d;
		about_zero += x * x;
		fourths += x * x * x * x;
	}
	s->mean = middle + sum / size;
	s->variance = (squares - sum * sum / size) / size;
	s->square = about_zero / size;
	s->fourth = fourths / size;
}

/* The logarithms are over that of the largest: none is positive. */
static bool
gather_logs(struct likelihood_sample *s)
{
	double largest = s->sorted[s->n - 1] * s->unit, size = (double)s->n;
	double sum = 0, squares = 0;

	s->logs = malloc(s->n * sizeof *s->logs);
	if (!s->logs)
		return false;
	for (size_t i = 0; i < s->n; i++) {
		s->logs[i] = log(s->sorted[i] * s->unit / largest);
		sum += s->logs[i];
	}
	double mean = sum / size;
	for (size_t i = 0; i < s->n; i++)
		squares += (s->logs[i] - mean) * (s->logs[i] - mean);
	s->log_mean = mean + log(largest);
	s->log_square = squares / size;
	return true;
}

bool
likelihood_gather(struct likelihood_sample *sample, const double *sorted, size_t n)
{
	int exponent;

	*sample = (struct likelihood_sample){.sorted = sorted, .n = n};
	if (n < VALUES_LEAST || !isfinite(sorted[0]) || !isfinite(sorted[n - 1]) ||
	    !(sorted[0] < sorted[n - 1]))
		return false;
	frexp(fmax(fabs(sorted[0]), fabs(sorted[n - 1])), &exponent);
	if (exponent < EXPONENT_LEAST)
		return false;
	sample->exponent = exponent;
	sample->unit = ldexp(1, -exponent);
	gather_moments(sample);
	if (!(sample->variance > 0))
		return false;
	if (sorted[0] * sample->unit > 0 &&
	    sample->mean < LIKELIHOOD_DISTANCE_MOST * sqrt(sample->variance))
		return gather_logs(sample);
	return true;
}

void
likelihood_release(struct likelihood_sample *sample)
{
	free(sample->logs);
	sample->logs = NULL;
}

/* ---- what is solved for: each over every `stride`th value -------------------------- */

struct equation {
	const struct likelihood_sample *sample;
	size_t stride;
};

/*
 * Folded normal: sigma^2 = mean(x^2) - mu^2 where both derivatives are zero, and then
 * mean(x tanh(x mu / sigma^2)) = mu.
 */
static double
folded_equation(double mu, void *context)
{
	const struct equation *equation = context;
	const struct likelihood_sample *s = equation->sample;
	double square = 0, sum = 0, count = 0;

	for (size_t i = 0; i < s->n; i += equation->stride) {
		double x = s->sorted[i] * s->unit;
		square += x * x;
		count++;
	}
	double inverse = mu / (square / count - mu * mu);
	for (size_t i = 0; i < s->n; i += equation->stride) {
		double x = s->sorted[i] * s->unit, u = x * inverse;
		sum += u > 20 ? x : x * tanh(u);
	}
	return sum / count - mu;
}

/* Weibull: mean(x^k log x) / mean(x^k) - 1/k - mean(log x) = 0, which rises with k. */
static double
weibull_equation(double shape, void *context)
{
	const struct equation *equation = context;
	const struct likelihood_sample *s = equation->sample;
	double powers = 0, weighed = 0, logs = 0, count = 0;

	for (size_t i = 0; i < s->n; i += equation->stride) {
		double power = exp(shape * s->logs[i]);
		powers += power;
		weighed += power * s->logs[i];
		logs += s->logs[i];
		count++;
	}
	return weighed / powers - 1 / shape - logs / count;
}

/* The root among all values; of many it is first looked for among a few thousand. */
static double
solve(const struct likelihood_sample *s, double (*value)(double, void *), double guess)
{
	struct equation equation = {s, s->n / THIN > 1 ? s->n / THIN : 1};
	struct root_function function = {value, &equation};
	double root = root_near(&function, guess);

	if (equation.stride == 1)
		return root;
	equation.stride = 1;
	double near = root_between(&function, root * 0.95, root * 1.05);
	return isnan(near) ? root_near(&function, root > 0 ? root : guess) : near;
}

/* ---- the families, in units of the sample ---------------------------------------------- */

static double
normal_maximum(const struct likelihood_sample *s, double parameters[FAMILY_PARAMETERS])
{
	parameters[0] = s->mean;
	parameters[1] = sqrt(s->variance);
	return -(double)s->n / 2 * (log(2 * M_PI * s->variance) + 1);
}

static double
half_normal_maximum(
    const struct likelihood_sample *s, double parameters[FAMILY_PARAMETERS])
{
	parameters[0] = sqrt(s->square);
	return -(double)s->n / 2 * (log(M_PI / 2 * s->square) + 1);
}

/*
 * The upper end of where the likelihood rises with mu, which is below the mean: a maximum.  It
 * rises from 0 on where the fourth moment is less than three times the square of the second
 * (its derivative is mu^3 (1 - fourth / (3 square^2)) in the first term); else it falls from 0,
 * and may have a second, higher maximum all the same.  0: none.
 */
static double
folded_mu(const struct likelihood_sample *s)
{
	struct equation equation = {s, s->n / THIN > 1 ? s->n / THIN : 1};
	struct root_function function = {folded_equation, &equation};
	double least = 1e-3 * sqrt(s->square), step = s->mean / FOLDED_STEPS;
	int k = FOLDED_STEPS - 1;

	if (s->mean > 10 * sqrt(s->variance) && s->sorted[0] > 0)
		return s->mean; /* nothing folds over */
	while (k > 0 && !(folded_equation(k * step, &equation) > 0))
		k--;
	equation.stride = 1;
	if (k == 0 && !(folded_equation(least, &equation) > 0))
		return 0;
	double mu = root_between(&function, fmax(k * step, least), (k + 1) * step);
	if (isnan(mu))
		mu = solve(s, folded_equation, (k + 0.5) * step);
	return mu > least ? mu : 0;
}

static double
folded_likelihood(const struct likelihood_sample *s, double mu)
{
	/* the mean square less mu^2, but without the cancelling where mu is the mean */
	double variance = s->variance + (s->mean - mu) * (s->mean + mu);
	double sum = 0, size = (double)s->n;

	for (size_t i = 0; i < s->n && mu > 0; i++) {
		double u = s->sorted[i] * s->unit * mu / variance;
		if (u < 20)
			sum += log1p(exp(-2 * u));
		/* log(2 cosh u) is u + log(1 + exp(-2u)). */
	}
	if (!(mu > 0))
		sum = size * M_LN2;
	return sum - size / 2 * log(2 * M_PI * variance) -
	       size / (2 * variance) * (s->variance + (s->mean - mu) * (s->mean - mu));
}

static double
folded_maximum(const struct likelihood_sample *s, double parameters[FAMILY_PARAMETERS])
{
	double mu = folded_mu(s);
	double there = folded_likelihood(s, mu), at_zero = folded_likelihood(s, 0);

	if (!(there > at_zero))
		mu = 0;
	parameters[0] = mu;
	parameters[1] = sqrt(s->variance + (s->mean - mu) * (s->mean + mu));
	return mu > 0 ? there : at_zero;
}

static double
lognormal_maximum(
    const struct likelihood_sample *s, double parameters[FAMILY_PARAMETERS])
{
	double size = (double)s->n;

	parameters[0] = s->log_mean;
	parameters[1] = sqrt(s->log_square);
	return -size * s->log_mean - size / 2 * (log(2 * M_PI * s->log_square) + 1);
}

static double
weibull_maximum(const struct likelihood_sample *s, double parameters[FAMILY_PARAMETERS])
{
	double size = (double)s->n, powers = 0;
	/* The logarithm of a Weibull has the deviation pi / (sqrt(6) shape). */
	double shape = solve(s, weibull_equation, M_PI / sqrt(6 * s->log_square));

	for (size_t i = 0; i < s->n; i++)
		powers += exp(shape * s->logs[i]);
	double log_scale =
	    log(s->sorted[s->n - 1] * s->unit) + log(powers / size) / shape;
	parameters[0] = shape;
	parameters[1] = exp(log_scale);
	return size * (log(shape) - shape * log_scale + (shape - 1) * s->log_mean - 1);
}

static double
gamma_equation(double shape, void *context)
{
	const double *difference = context;

	return log(shape) - gsl_sf_psi(shape) - *difference;
}

static double
gamma_maximum(const struct likelihood_sample *s, double parameters[FAMILY_PARAMETERS])
{
	double difference = log(s->mean) - s->log_mean, size = (double)s->n;
	struct root_function function = {gamma_equation, &difference};
	/* T. P. Minka, Estimating a Gamma distribution, 2002 (from memory). */
	double d = difference;
	double shape =
	    root_near(&function, (3 - d + sqrt((d - 3) * (d - 3) + 24 * d)) / (12 * d));
	double scale = s->mean / shape;

	parameters[0] = shape;
	parameters[1] = scale;
	if (!(shape > 0))
		return NAN;
	return size * ((shape - 1) * s->log_mean - shape - shape * log(scale) -
			  gsl_sf_lngamma(shape));
}

static double
maximum(const struct likelihood_sample *sample, enum family family,
    double parameters[FAMILY_PARAMETERS])
{
	switch (family) {
	case FAMILY_NORMAL:
		return normal_maximum(sample, parameters);
	case FAMILY_HALF_NORMAL:
		return half_normal_maximum(sample, parameters);
	case FAMILY_FOLDED_NORMAL:
		return folded_maximum(sample, parameters);
	case FAMILY_LOGNORMAL:
		return lognormal_maximum(sample, parameters);
	case FAMILY_WEIBULL:
		return weibull_maximum(sample, parameters);
	case FAMILY_GAMMA:
		return gamma_maximum(sample, parameters);
	case FAMILY_COUNT:
		break;
	}
	assert(false);
	return NAN;
}

bool
likelihood_maximum(const struct likelihood_sample *sample, enum family family,
    double parameters[FAMILY_PARAMETERS], double *log_likelihood)
{
	bool needs_logs = family == FAMILY_LOGNORMAL || family == FAMILY_WEIBULL ||
	                  family == FAMILY_GAMMA;

	if ((needs_logs && !sample->logs) ||
	    (family_table[family].positive && sample->sorted[0] < 0))
		return false;
	parameters[1] = 0;
	double log_unit = -sample->exponent * M_LN2;
	double found =
	    maximum(sample, family, parameters) + (double)sample->n * log_unit;
	family_scale(family, parameters, sample->exponent);
	if (!isfinite(found) || !isfinite(parameters[0]) || !isfinite(parameters[1]))
		return false;
	*log_likelihood = found;
	return true;
}
