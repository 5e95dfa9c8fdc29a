/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/stats/goodness_simulated.h"

#include "cli/stats/goodness.h"
#include "cli/stats/likelihood.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_sort.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { SEED = 20261127, SERIES = 40000 };

static double
draw(gsl_rng *rng, enum family family, const double *parameters)
{
	double a = parameters[0], b = parameters[1];

	switch (family) {
	case FAMILY_NORMAL:
		return a + gsl_ran_gaussian_ziggurat(rng, b);
	case FAMILY_HALF_NORMAL:
		return fabs(gsl_ran_gaussian_ziggurat(rng, a));
	case FAMILY_FOLDED_NORMAL:
		return fabs(a + gsl_ran_gaussian_ziggurat(rng, b));
	case FAMILY_LOGNORMAL:
		return exp(a + gsl_ran_gaussian_ziggurat(rng, b));
	case FAMILY_WEIBULL:
		return gsl_ran_weibull(rng, b, a);
	case FAMILY_GAMMA:
		return gsl_ran_gamma(rng, a, b);
	case FAMILY_COUNT:
		break;
	}
	abort();
}

void
simulated_values(gsl_rng *rng, enum family family,
    const double parameters[FAMILY_PARAMETERS], double *sorted, size_t n)
{
	for (size_t i = 0; i < n; i++)
		sorted[i] = draw(rng, family, parameters);
	gsl_sort(sorted, 1, n);
}

void
simulated_statistics(gsl_rng *rng, enum family family,
    const double parameters[FAMILY_PARAMETERS], size_t n, double *statistics,
    size_t series)
{
	double *sorted = malloc(n * sizeof *sorted);

	for (size_t i = 0; sorted && i < series;) {
		struct likelihood_sample sample;
		double fitted[FAMILY_PARAMETERS], unused;
		simulated_values(rng, family, parameters, sorted, n);
		if (likelihood_gather(&sample, sorted, n) &&
		    likelihood_maximum(&sample, family, fitted, &unused))
			statistics[i++] = goodness_a2(family, fitted, sorted, n);
		likelihood_release(&sample);
	}
	free(sorted);
	gsl_sort(statistics, 1, series);
}

/* The rows of one shape: a row for each number of values, a column for each p. */
static void
print_shape(gsl_rng *rng, enum family family, double shape, double *statistics)
{
	const double parameters[FAMILY_PARAMETERS] = {shape, 1};

	printf("\t{\n");
	for (size_t i = 0; i < GOODNESS_SIZES; i++) {
		simulated_statistics(
		    rng, family, parameters, goodness_sizes[i], statistics, SERIES);
		printf("\t    {");
		for (size_t j = 0; j < GOODNESS_CHANCES; j++) {
			double at = (1 - goodness_chances[j]) * SERIES;
			printf("%s%.4f", j ? ", " : "", statistics[(size_t)at]);
		}
		printf("},\n");
		fflush(stdout);
	}
	printf("\t},\n");
}

void
simulated_table_print(void)
{
	gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
	double *statistics = malloc(SERIES * sizeof *statistics);

	if (!rng || !statistics)
		abort();
	gsl_rng_set(rng, SEED);
	printf(
	    "/* SPDX-License-Identifier: GPL-3.0-or-later */\n"
	    "/*\n"
	    " * Values of the Anderson-Darling statistic of fitted families that are\n"
	    " * exceeded with the chances of goodness_chances, for the shapes and the\n"
	    " * numbers of values beside them in goodness.h.  Made by tests/unit/cli/\n"
	    " * stats/goodness_simulated.c, %d series each, seed %d.\n"
	    " */\n"
	    "#ifndef CLI_STATS_GOODNESS_TABLE_H\n"
	    "#define CLI_STATS_GOODNESS_TABLE_H\n\n"
	    "#include \"cli/stats/goodness.h\"\n\n"
	    "/* clang-format off */\n",
	    SERIES, SEED);
	printf("static const double "
	       "half_normal_table[1][GOODNESS_SIZES][GOODNESS_CHANCES] = {\n");
	print_shape(rng, FAMILY_HALF_NORMAL, 1, statistics);
	printf("};\n\nstatic const double\n    "
	       "folded_table[GOODNESS_FOLDED][GOODNESS_SIZES][GOODNESS_CHANCES] = {\n");
	for (size_t i = 0; i < GOODNESS_FOLDED; i++)
		print_shape(rng, FAMILY_FOLDED_NORMAL, goodness_folded[i], statistics);
	printf("};\n\nstatic const double\n    "
	       "gamma_table[GOODNESS_GAMMA][GOODNESS_SIZES][GOODNESS_CHANCES] = {\n");
	for (size_t i = 0; i < GOODNESS_GAMMA; i++)
		print_shape(
		    rng, FAMILY_GAMMA, 1 / fmax(goodness_gamma[i], 1e-3), statistics);
	printf("};\n/* clang-format on */\n\n#endif\n");
	free(statistics);
	gsl_rng_free(rng);
}
