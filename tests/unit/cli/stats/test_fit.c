/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <float.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <gsl/gsl_sort.h>
#include <math.h>
#include <stdio.h>

#include "cli/stats/fit.h"
#include "tests/reference/normality_data.h"
#include "tests/unit/cli/stats/goodness_simulated.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

/* Indices at the limits, computed with mpmath 1.2.1; NAN: no such limit. */
static const struct row {
	enum family family;
	double parameters[FAMILY_PARAMETERS];
	double lower, upper, pp, ppu, ppl;
} rows[] = {
    {FAMILY_NORMAL, {10, 2}, 2, 18, 1.33334355888, 1.33334355888, 1.33334355888},
    {FAMILY_WEIBULL, {1, 1}, NAN, 8, NAN, 1.23541271251, NAN},
    {FAMILY_GAMMA, {1, 2}, NAN, 12, NAN, 0.897260913631, NAN},
    {FAMILY_HALF_NORMAL, {1, 0}, NAN, 4, NAN, 1.31409672749, NAN},
    {FAMILY_HALF_NORMAL, {2.5, 0}, NAN, 9, NAN, 1.15603415919, NAN},
    {FAMILY_FOLDED_NORMAL, {1, 1}, NAN, 5, NAN, 1.339026693, NAN},
    {FAMILY_FOLDED_NORMAL, {1, 2}, NAN, 8, NAN, 1.179620078, NAN},
    {FAMILY_LOGNORMAL, {0, 0.5}, 0.1, 6, 1.38546280769, 1.43610584922, 1.15849905286},
    {FAMILY_LOGNORMAL, {1, 0.25}, 1, 7, 1.34212071228, 1.41018194804, 1.19803590381},
    {FAMILY_WEIBULL, {2, 1}, NAN, 3, NAN, 1.24710571039, NAN},
    {FAMILY_WEIBULL, {1.5, 3}, NAN, 12, NAN, 1.17484783513, NAN},
};

static void
check(struct published_table *table, double got, double wanted)
{
	if (isnan(wanted))
		assert_true(isnan(got));
	else
		published_add(table, got, wanted, 1e-9 * wanted);
}

static void
indices_by_percentiles_are_exact(void **state)
{
	struct published_table table = published_begin(
	    SOURCE_MPMATH, "indices by percentiles of six families of distributions");

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		const double *parameters = rows[i].parameters;
		struct quantiles quantiles = {
		    family_quantile(rows[i].family, parameters, 0.00135),
		    family_quantile(rows[i].family, parameters, 0.5),
		    family_quantile(rows[i].family, parameters, 0.99865),
		};
		struct percentile_index index =
		    percentile_index_of(&quantiles, rows[i].lower, rows[i].upper);
		check(&table, index.pp, rows[i].pp);
		check(&table, index.ppu, rows[i].ppu);
		check(&table, index.ppl, rows[i].ppl);
	}
	published_end(&table);
}

/* The rule of three, exactly: of n without one seen, 1 - 0.05^(1/n). */
static void
nothing_seen_bounds_the_share_by_the_rule_of_three(void **state)
{
	static const size_t sizes[] = {1, 25, 160, 741, 10000, 1000000};

	(void)state;
	for (size_t i = 0; i < LENGTH(sizes); i++) {
		double n = (double)sizes[i], exact = -expm1(log(0.05) / n);
		assert_near(share_most(0, sizes[i]), exact, 1e-12);
	}
	assert_near(share_most(0, 1000), 3.0 / 1000, 1e-5);
}

/* Of `seen` of n the bound is the share with which so few are seen in 1 of 20: the binomial
 * summed term by term. */
static void
the_bound_of_a_share_is_exact(void **state)
{
	static const size_t rows_seen[][2] = {{1, 10}, {2, 160}, {5, 160}, {40, 300}};

	(void)state;
	for (size_t i = 0; i < LENGTH(rows_seen); i++) {
		size_t seen = rows_seen[i][0], n = rows_seen[i][1];
		double share = share_most(seen, n), sum = 0;
		for (unsigned k = 0; k <= seen; k++)
			sum += gsl_ran_binomial_pdf(k, share, (unsigned)n);
		assert_near(sum, 0.05, 1e-7);
	}
	assert_near(share_most(7, 7), 1, 0);
	assert_true(isnan(share_most(0, 0)));
	assert_true(isnan(share_most(2, 1)));
}

/* ---- maximum likelihood -------------------------------------------------------------- */

/* Folded normal enough: |0.9 + 1.3 sin(1.7 i)| for i = 1 ... 40, to three digits. */
static const double wave[] = {2.189, 0.568, 0.304, 1.542, 1.938, 0.010, 0.096, 2.017,
    1.416, 0.350, 0.706, 2.200, 0.759, 0.363, 1.367, 2.043, 0.139, 0.047, 1.905, 1.588,
    0.283, 0.517, 2.181, 0.953, 0.395, 1.181, 2.123, 0.304, 0.169, 1.771, 1.744, 0.189,
    0.336, 2.134, 1.146, 0.398, 0.989, 2.175, 0.483, 0.267};

/* Parameters and log likelihood computed with R 4.2: closed forms, or the likelihood equation
 * solved by uniroot; density functions of R. */
static const struct reference {
	const double *values;
	size_t n;
	enum family family;
	double parameters[FAMILY_PARAMETERS], log_likelihood;
} references[] = {
    {data_precip, LENGTH(data_precip), FAMILY_NORMAL, {34.88571428571, 13.60839326838},
	-282.07377013715},
    {data_precip, LENGTH(data_precip), FAMILY_HALF_NORMAL, {37.44598013901, 0},
	-304.40835022041},
    {data_precip, LENGTH(data_precip), FAMILY_FOLDED_NORMAL,
	{34.81396632856, 13.79090921751}, -281.78251640344},
    {data_precip, LENGTH(data_precip), FAMILY_LOGNORMAL,
	{3.4423509385848, 0.5246795647984}, -295.1425341405002},
    {data_precip, LENGTH(data_precip), FAMILY_WEIBULL,
	{2.828773779636, 39.084371247214}, -282.406300720884},
    {data_precip, LENGTH(data_precip), FAMILY_GAMMA, {4.717079726541, 7.395616845190},
	-288.464624416848},
    {data_rivers, LENGTH(data_rivers), FAMILY_HALF_NORMAL, {769.2057937844, 0},
	-1039.3321356958},
    /* Its fourth moment is too large: the maximum is the half-normal. */
    {data_rivers, LENGTH(data_rivers), FAMILY_FOLDED_NORMAL, {0, 769.2057937844},
	-1039.3321356958},
    {data_rivers, LENGTH(data_rivers), FAMILY_LOGNORMAL,
	{6.1758788810975, 0.5893829134977}, -996.3254883924047},
    {data_rivers, LENGTH(data_rivers), FAMILY_WEIBULL, {1.43820040983, 660.22233271686},
	-1024.78251789072},
    {data_rivers, LENGTH(data_rivers), FAMILY_GAMMA, {2.578727031073, 229.254353035218},
	-1013.111733062665},
    {data_nile, LENGTH(data_nile), FAMILY_FOLDED_NORMAL, {919.35, 168.3792371405},
	-654.5157332521},
    {data_nile, LENGTH(data_nile), FAMILY_WEIBULL, {5.79311730992, 990.37500701251},
	-657.91505443845},
    {data_nile, LENGTH(data_nile), FAMILY_GAMMA, {29.73493068934, 30.91818204001},
	-653.51393730732},
    {wave, LENGTH(wave), FAMILY_FOLDED_NORMAL, {0.8595033222023, 0.9593441583307},
	-38.7252183515719},
};

/* All NAN where it was left out. */
static struct fit
fit_of(const struct fits *fits, enum family family)
{
	for (size_t i = 0; i < fits->count; i++)
		if (fits->list[i].family == family)
			return fits->list[i];
	return (struct fit){.family = family, .parameters = {NAN, NAN}};
}

static void
check_close(struct published_table *table, double got, double wanted)
{
	published_add(table, got, wanted, 1e-8 * fabs(wanted));
}

/* Times 2^exponent: the parameters follow, the indices stay. */
static void
check_reference(
    const struct reference *row, int exponent, struct published_table *table)
{
	double sorted[200], wanted[] = {row->parameters[0], row->parameters[1]};

	for (size_t i = 0; i < row->n; i++)
		sorted[i] = ldexp(row->values[i], exponent);
	gsl_sort(sorted, 1, row->n);
	family_scale(row->family, wanted, exponent);
	struct fits fits =
	    fits_of(sorted, row->n, row->family != FAMILY_NORMAL, NAN, NAN);
	struct fit fit = fit_of(&fits, row->family);
	double likelihood = row->log_likelihood - (double)row->n * exponent * M_LN2;
	check_close(table, fit.parameters[0], wanted[0]);
	check_close(table, fit.parameters[1], wanted[1]);
	check_close(table, fit.log_likelihood, likelihood);
}

static void
fits_are_those_of_r_in_any_unit(void **state)
{
	static const int exponents[] = {-900, 900};
	struct published_table table = published_begin(SOURCE_R,
	    "parameters and log likelihood of fits to precip, rivers, Nile, a wave");
	struct published_table scaled = published_begin(
	    SOURCE_R, "the same fits to values of 2^-900 and 2^900 times the size");

	(void)state;
	for (size_t i = 0; i < LENGTH(references); i++)
		check_reference(&references[i], 0, &table);
	for (size_t i = 0; i < LENGTH(references); i++)
		for (size_t j = 0; j < LENGTH(exponents); j++)
			check_reference(&references[i], exponents[j], &scaled);
	published_end(&table);
	published_end(&scaled);
}

static double
log_likelihood(const struct fit *fit, const double *values, size_t n)
{
	double sum = 0;

	for (size_t i = 0; i < n; i++)
		sum += log(family_density(fit->family, fit->parameters, values[i]));
	return sum;
}

static void
nothing_near_a_fit_is_likelier(void **state)
{
	gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
	double sorted[60];

	(void)state;
	gsl_rng_set(rng, seed_take(11));
	for (int k = 0; k < 60; k++) {
		const double parameters[] = {0.4 + 3 * gsl_rng_uniform(rng), 2};
		simulated_values(rng, k % 2 ? FAMILY_GAMMA : FAMILY_FOLDED_NORMAL,
		    parameters, sorted, LENGTH(sorted));
		struct fits fits = fits_of(sorted, LENGTH(sorted), true, NAN, NAN);
		assert_int_equal(fits.count, 5);
		for (size_t i = 0; i < fits.count; i++) {
			struct fit fit = fits.list[i];
			double most = log_likelihood(&fit, sorted, LENGTH(sorted));
			assert_near(fit.log_likelihood, most, 1e-7 * fabs(most) + 1e-8);
			for (int step = -1; step <= 1; step += 2)
				for (int which = 0; which < 2; which++) {
					struct fit near = fit;
					near.parameters[which] += step * 1e-3;
					if (near.parameters[which] < 0)
						continue;
					assert_true(log_likelihood(&near, sorted,
							LENGTH(sorted)) < most + 1e-9);
				}
		}
	}
	gsl_rng_free(rng);
}

/* ---- which families, and which is used ------------------------------------------------- */

static bool
has(const struct fits *fits, enum family family)
{
	return !isnan(fit_of(fits, family).parameters[0]);
}

static void
families_that_the_values_exclude_are_left_out(void **state)
{
	const double positive[] = {1, 2, 3, 5}, zero[] = {0, 1, 2, 4},
		     negative[] = {-1, 1, 2, 3}, far[] = {500, 501, 502, 504};

	(void)state;
	struct fits fits = fits_of(positive, 4, true, NAN, NAN);
	assert_int_equal(fits.count, 5);
	assert_false(has(&fits, FAMILY_NORMAL));
	fits = fits_of(positive, 4, false, NAN, NAN);
	assert_int_equal(fits.count, 4);
	assert_true(has(&fits, FAMILY_NORMAL) && has(&fits, FAMILY_LOGNORMAL) &&
		    has(&fits, FAMILY_WEIBULL) && has(&fits, FAMILY_GAMMA));
	fits = fits_of(zero, 4, true, NAN, NAN);
	assert_int_equal(fits.count, 5);
	assert_int_equal(fits_of(zero, 4, false, NAN, NAN).count, 1);
	assert_int_equal(fits_of(negative, 4, true, NAN, NAN).count, 0);
	assert_int_equal(fits_of(negative, 4, false, NAN, NAN).count, 1);
	/* Zero is 338 deviations away: the normal is all there is to tell. */
	assert_int_equal(fits_of(far, 4, false, NAN, NAN).count, 1);
	fits = fits_of(far, 4, true, NAN, NAN);
	assert_true(has(&fits, FAMILY_FOLDED_NORMAL) && !has(&fits, FAMILY_GAMMA));
}

static void
zeros_among_rounded_values_exclude_no_family(void **state)
{
	const double rounded[] = {0, 0.1, 0.1, 0.2, 0.3, 0.3, 0.4, 0.6, 0.7, 1.1};

	(void)state;
	struct fits fits = fits_of(rounded, LENGTH(rounded), true, NAN, 2);
	assert_int_equal(fits.count, 5);
	assert_true(fits.used >= 0);
	/* What may be negative may be -0.04 as well. */
	fits = fits_of(rounded, LENGTH(rounded), false, NAN, 2);
	assert_int_equal(fits.count, 1);
}

/* No grid: a zero is a reading below the smallest one. */
static void
a_few_zeros_among_full_values_exclude_nothing(void **state)
{
	enum { SERIES = 200, N = 160 };
	gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
	double values[N];

	(void)state;
	gsl_rng_set(rng, seed_take(15));
	for (size_t zeros = 1; zeros <= 2; zeros++) {
		int none = 0, half_normal = 0;
		for (int k = 0; k < SERIES; k++) {
			for (size_t i = 0; i < N; i++)
				values[i] = fabs(gsl_ran_ugaussian(rng));
			gsl_sort(values, 1, N);
			for (size_t i = 0; i < zeros; i++)
				values[i] = 0;
			struct fits fits = fits_of(values, N, true, NAN, 6);
			none += fits.used < 0;
			half_normal += fits_p(&fits, FAMILY_HALF_NORMAL) >= 0.05;
		}
		printf("half-normal with %zu zeros: nothing fits in %d of %d, "
		       "half-normal in %d\n",
		    zeros, none, SERIES, half_normal);
		assert_true(none <= SERIES / 20);
		assert_true(half_normal >= SERIES * 88 / 100);
	}
	gsl_rng_free(rng);
	/* a heap of zeros stays one */
	for (size_t i = 0; i < N; i++)
		values[i] = i < N / 2 ? 0 : 5 + 0.01 * pow((double)i, 1.1);
	assert_int_equal(fits_of(values, N, true, NAN, 9).used, -1);
}

/* Without spreading equal values half-normal is refused in 0.67 of these. */
static void
rounding_refuses_no_family(void **state)
{
	enum { SERIES = 500, N = 160 };
	static const struct {
		enum family family;
		double parameters[FAMILY_PARAMETERS];
		double step;
	} drawn[] = {
	    {FAMILY_HALF_NORMAL, {1, 0}, 0.2},
	    {FAMILY_HALF_NORMAL, {1, 0}, 0.5},
	    {FAMILY_WEIBULL, {2, 2}, 0.3},
	    {FAMILY_GAMMA, {4, 0.5}, 0.3},
	    {FAMILY_LOGNORMAL, {0, 0.5}, 0.1},
	    {FAMILY_NORMAL, {170, 1}, 0.3},
	};
	gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);

	(void)state;
	gsl_rng_set(rng, seed_take(14));
	for (size_t i = 0; i < LENGTH(drawn); i++) {
		int refused = 0;
		for (int k = 0; k < SERIES; k++) {
			double sorted[N], step = drawn[i].step;
			simulated_values(
			    rng, drawn[i].family, drawn[i].parameters, sorted, N);
			for (size_t j = 0; j < N; j++)
				sorted[j] = rint(sorted[j] / step) * step;
			struct fits fits = fits_of(
			    sorted, N, drawn[i].family != FAMILY_NORMAL, NAN, NAN);
			refused += !(fit_of(&fits, drawn[i].family).p >= FIT_LEAST_P);
		}
		printf("%s rounded to %g: refused in %.3f\n",
		    family_table[drawn[i].family].name, drawn[i].step,
		    (double)refused / SERIES);
		assert_true(refused < 0.09 * SERIES);
	}
	gsl_rng_free(rng);
}

static void
the_likeliest_that_passes_is_used(void **state)
{
	enum { SERIES = 200 };
	static const struct {
		enum family family;
		double parameters[FAMILY_PARAMETERS];
		double least; /* share of series in which it is the one */
	} drawn[] = {
	    {FAMILY_HALF_NORMAL, {1, 0}, 0.6},
	    {FAMILY_LOGNORMAL, {0, 0.8}, 0.75},
	    {FAMILY_WEIBULL, {3, 1}, 0.4},
	};
	gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
	double sorted[160];

	(void)state;
	gsl_rng_set(rng, seed_take(12));
	for (size_t i = 0; i < LENGTH(drawn); i++) {
		int found = 0, none = 0;
		for (int k = 0; k < SERIES; k++) {
			simulated_values(rng, drawn[i].family, drawn[i].parameters,
			    sorted, LENGTH(sorted));
			struct fits fits =
			    fits_of(sorted, LENGTH(sorted), true, NAN, NAN);
			for (size_t j = 0; (int)j < fits.used; j++)
				assert_true(fits.list[j].p < FIT_LEAST_P);
			if (fits.used < 0)
				none++;
			else
				found += fits.list[fits.used].family == drawn[i].family;
		}
		printf("%s: used in %d of %d, nothing fits in %d\n",
		    family_table[drawn[i].family].name, found, SERIES, none);
		assert_true(found >= drawn[i].least * SERIES && none < 0.1 * SERIES);
	}
	gsl_rng_free(rng);
}

static void
degenerate_values_are_not_fitted(void **state)
{
	const double two[] = {1, 2}, equal[] = {3, 3, 3, 3}, zeros[] = {0, 0, 0, 0},
		     tiny[] = {0, 5e-324, 1e-323, 2e-323, 1e-310},
		     endless[] = {1, 2, 3, INFINITY};

	(void)state;
	for (int bounded = 0; bounded < 2; bounded++) {
		assert_int_equal(fits_of(NULL, 0, bounded, NAN, 1).count, 0);
		assert_int_equal(fits_of(two, 1, bounded, NAN, 1).count, 0);
		assert_int_equal(fits_of(two, 2, bounded, NAN, 1).count, 0);
		assert_int_equal(fits_of(equal, 4, bounded, NAN, 1).count, 0);
		assert_int_equal(fits_of(zeros, 4, bounded, NAN, 1).count, 0);
		assert_int_equal(fits_of(tiny, 5, bounded, NAN, 1).count, 0);
		assert_int_equal(fits_of(endless, 4, bounded, NAN, 1).count, 0);
		assert_int_equal(fits_of(endless, 4, bounded, NAN, 1).used, -1);
	}
	/* Three values are a fit, and no test of it. */
	const double three[] = {1, 2, 4};
	struct fits fits = fits_of(three, 3, true, NAN, 9);
	assert_int_equal(fits.count, 5);
	assert_int_equal(fits.used, -1);
	assert_true(isnan(fits.list[0].p) && fits.list[0].index.ppu > 0);
}

/* What is too large for a double, or no number, is NAN and never infinite. */
static void
values_of_any_size_give_numbers_or_none(void **state)
{
	enum { ROUNDS = 3000, MOST = 40 };
	static const double odd[] = {0, 1, 1 + DBL_EPSILON, DBL_TRUE_MIN, 1e-320,
	    1e-300, 1e-150, 1e150, 1e308, DBL_MAX, 1e9, 1e9 + 1e-3, 0.1, 3};
	gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
	double sorted[MOST];

	(void)state;
	gsl_rng_set(rng, seed_take(13));
	for (int k = 0; k < ROUNDS; k++) {
		size_t n = gsl_rng_uniform_int(rng, MOST);
		double size = pow(10, 600 * gsl_rng_uniform(rng) - 300);
		for (size_t i = 0; i < n; i++)
			sorted[i] = k % 3 == 0
			                ? odd[gsl_rng_uniform_int(rng, LENGTH(odd))]
			            : k % 3 == 1 ? size * exp(gsl_ran_gaussian(rng, 20))
			                         : 1e9 + gsl_ran_gaussian(rng, 1e-4);
		gsl_sort(sorted, 1, n);
		double upper = n ? sorted[n - 1] * 1.5 : 1;
		struct fits fits = fits_of(sorted, n, k % 2, -1, upper);
		for (size_t i = 0; i < fits.count; i++) {
			const struct fit *fit = &fits.list[i];
			const struct quantiles *q = &fit->quantiles;
			struct fit_bounds b = fit_bounds_of(fit, n, -1, upper);
			assert_true(isfinite(fit->parameters[0]));
			assert_true(isfinite(fit->parameters[1]));
			assert_true(isnan(fit->p) ? n < 8 : fit->p >= 0 && fit->p <= 1);
			assert_false(
			    isinf(q->x00135) || isinf(q->x50) || isinf(q->x99865));
			assert_false(q->x00135 > q->x50 || q->x50 > q->x99865);
			assert_false(isinf(fit->index.pp) || isinf(fit->index.ppl) ||
				     isinf(fit->index.ppu));
			assert_false(isinf(b.low) || isinf(b.high) || isinf(b.least));
			assert_false(b.low > b.least || b.least > b.high);
		}
	}
	gsl_rng_free(rng);
}

/* A huge offset costs digits of the values, not of what is done with them. */
static void
an_offset_moves_a_normal_fit_and_nothing_else(void **state)
{
	double near[100], far[100];

	(void)state;
	for (size_t i = 0; i < 100; i++) {
		near[i] = ldexp((double)(i * i), -22);
		far[i] = 1e9 + near[i]; /* exact */
	}
	struct fits a = fits_of(near, 100, false, -0.01, 0.01);
	struct fits b = fits_of(far, 100, false, 1e9 - 0.01, 1e9 + 0.01);
	struct fit p = fit_of(&a, FAMILY_NORMAL), q = fit_of(&b, FAMILY_NORMAL);
	assert_near(q.parameters[1], p.parameters[1], 1e-9 * p.parameters[1]);
	assert_near(q.index.ppu, p.index.ppu, 1e-3 * p.index.ppu);
	assert_near(q.p, p.p, 1e-3 * p.p);
}

static void
no_limit_gives_no_index_and_no_bound(void **state)
{
	struct fits fits =
	    fits_of((const double[]){1, 2, 3, 5, 6, 7, 8, 9, 12}, 9, true, NAN, NAN);

	(void)state;
	for (size_t i = 0; i < fits.count; i++) {
		struct fit_bounds bounds = fit_bounds_of(&fits.list[i], 9, NAN, NAN);
		assert_true(isnan(fits.list[i].index.pp));
		assert_true(isnan(fits.list[i].index.ppl));
		assert_true(isnan(fits.list[i].index.ppu));
		assert_true(
		    isnan(bounds.low) && isnan(bounds.high) && isnan(bounds.least));
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(indices_by_percentiles_are_exact),
	    cmocka_unit_test(nothing_seen_bounds_the_share_by_the_rule_of_three),
	    cmocka_unit_test(the_bound_of_a_share_is_exact),
	    cmocka_unit_test(fits_are_those_of_r_in_any_unit),
	    cmocka_unit_test(nothing_near_a_fit_is_likelier),
	    cmocka_unit_test(families_that_the_values_exclude_are_left_out),
	    cmocka_unit_test(zeros_among_rounded_values_exclude_no_family),
	    cmocka_unit_test(a_few_zeros_among_full_values_exclude_nothing),
	    cmocka_unit_test(rounding_refuses_no_family),
	    cmocka_unit_test(the_likeliest_that_passes_is_used),
	    cmocka_unit_test(degenerate_values_are_not_fitted),
	    cmocka_unit_test(values_of_any_size_give_numbers_or_none),
	    cmocka_unit_test(an_offset_moves_a_normal_fit_and_nothing_else),
	    cmocka_unit_test(no_limit_gives_no_index_and_no_bound),
	};
	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
