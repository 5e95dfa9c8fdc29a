/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How many values lie where, in bins of one width: 2 IQR n^(-1/3) (Freedman and Diaconis, "On
 * the histogram as a density estimator", Z. Wahrscheinlichkeitstheorie 57, 1981; from memory).
 * Values on a coarse grid get bins of whole steps of it, else every other bin would look
 * emptier than it is.  Where an end of the values is near a limit, a bin ends at that limit.
 * Pure.
 */
#ifndef CLI_PICTURE_HISTOGRAM_H
#define CLI_PICTURE_HISTOGRAM_H

#include <stdbool.h>
#include <stddef.h>

/* A bin is no narrower than low ... high in so many parts: thinner bars are not seen. */
enum { HISTOGRAM_SEEN = 44, HISTOGRAM_BINS = HISTOGRAM_SEEN + 4 };

struct histogram {
	double low, width; /* of the first bin */
	size_t bins;
	size_t counts[HISTOGRAM_BINS], most;
	size_t n; /* values, those outside low ... high too */
};

/* Of those of `values` within low ... high, NAN passed over; limits NAN: none.  False when
 * memory is short.  No bins without values. */
struct histogram_asked {
	const double *values;
	size_t count;
	double low, high;    /* finite, low < high */
	double lower, upper; /* limits */
};
bool histogram_make(const struct histogram_asked *asked, struct histogram *histogram);

#endif
