/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/series.h"

#include <math.h>

bool
series_neighbours(const struct series *series, size_t i)
{
	return !(series->breaks && series->breaks[i]) &&
	       isfinite(series->values[i - 1]) && isfinite(series->values[i]);
}
