/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The Anderson-Darling statistic of a fitted family, by simulation: what cli/stats/
 * goodness_table.h is made of, and held against.  test_goodness with EVENSOAK_GOODNESS_TABLE
 * in the environment writes that file on its standard output and ends.
 */
#ifndef TESTS_UNIT_CLI_STATS_GOODNESS_SIMULATED_H
#define TESTS_UNIT_CLI_STATS_GOODNESS_SIMULATED_H

#include "cli/stats/family.h"

#include <gsl/gsl_rng.h>
#include <stddef.h>

/* `n` values of the family, ascending. */
void simulated_values(gsl_rng *rng, enum family family,
    const double parameters[FAMILY_PARAMETERS], double *sorted, size_t n);

/* The statistics of `series` series of n values each, ascending: drawn, fitted, tested. */
void simulated_statistics(gsl_rng *rng, enum family family,
    const double parameters[FAMILY_PARAMETERS], size_t n, double *statistics,
    size_t series);

/* The whole of goodness_table.h; some minutes. */
void simulated_table_print(void);

#endif
