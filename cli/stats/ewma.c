/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/ewma.h"

#include "cli/stats/numerics.h"

#include <math.h>

struct ewma
ewma_of(const struct series *series, double centre, double sigma,
    const struct ewma_setting *setting, size_t *signals, double *course)
{
	double lambda = setting->lambda, kept = 1 - lambda, z = centre;
	double asymptote =
	    sigma > 0 ? setting->limit * sigma * sqrt(lambda / (2 - lambda)) : NAN;
	double weight_left = 1; /* (1 - lambda)^2t */
	struct ewma ewma = {
	    .last = NAN,
	    .max = NAN,
	    .low = numerics_finite(centre - asymptote),
	    .high = numerics_finite(centre + asymptote),
	};

	for (size_t i = 0; i < series->count; i++) {
		double off = series->values[i] - z;
		if (isfinite(off)) {
			z += lambda * off;
			weight_left *= kept * kept;
			ewma.last = numerics_finite(z);
			ewma.max = fmax(ewma.max, ewma.last);
			if (fabs(z - centre) > asymptote * sqrt(1 - weight_left)) {
				if (signals)
					signals[ewma.signal_count] = i + 1;
				if (ewma.signal_count++ == 0)
					ewma.first_signal = i + 1;
			}
		}
		if (course)
			course[i] = z;
	}
	return ewma;
}

struct cusum
cusum_of(const struct series *series, double centre, double sigma,
    const struct cusum_setting *setting, size_t *signals)
{
	struct cusum cusum = {NAN, NAN, NAN, NAN, 0, 0};
	double slack = setting->k * sigma, limit = setting->h * sigma;
	double high = 0, low = 0;

	if (!isfinite(centre) || !(sigma > 0))
		return cusum;
	for (size_t i = 0; i < series->count; i++) {
		double off = series->values[i] - centre;
		if (!isfinite(off))
			continue;
		high = fmax(0, high + off - slack);
		low = fmax(0, low - off - slack);
		cusum.high_last = numerics_finite(high);
		cusum.low_last = numerics_finite(low);
		cusum.high_max = fmax(cusum.high_max, cusum.high_last);
		cusum.low_max = fmax(cusum.low_max, cusum.low_last);
		if (high > limit || low > limit) {
			if (signals)
				signals[cusum.signal_count] = i + 1;
			if (cusum.signal_count++ == 0)
				cusum.first_signal = i + 1;
		}
	}
	return cusum;
}
