/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/shift_known.h"

#include <math.h>
#include <stdlib.h>

#include "cli/stats/sort.h"

/* All values of a feature that are known, of all complete shots; the caller frees. */
struct known {
	double *values;
	size_t count, shots;
	double sum;
};

static bool
find_known(struct known *known, const struct populations *all, int feature)
{
	size_t shots = 0;

	for (size_t i = 0; i < all->count; i++)
		shots += all->list[i].complete.count;
	*known =
	    (struct known){.values = calloc(shots + 1, sizeof(double)), .shots = shots};
	for (size_t i = 0; known->values && i < all->count; i++) {
		const struct population *population = &all->list[i];
		size_t width = population->features->count;
		size_t column = population_column(population, feature);
		for (size_t row = 0; row < population->complete.count; row++) {
			double value = population->values[row * width + column];
			if (!isfinite(value))
				continue;
			known->values[known->count++] = value;
			known->sum += value;
		}
	}
	return known->values != NULL;
}

double
shift_known_sum(const struct populations *all, int feature, bool *failed)
{
	struct known known;

	*failed |= !find_known(&known, all, feature);
	free(known.values);
	return known.count > 0 && known.count == known.shots ? known.sum : NAN;
}

double
shift_known_median(const struct populations *all, int feature, bool *failed)
{
	struct known known;
	double median = NAN;
	bool made = find_known(&known, all, feature);

	*failed |= !made;
	if (made && known.count > 0) {
		sort_values(known.values, known.count);
		median = (known.values[(known.count - 1) / 2] +
			     known.values[known.count / 2]) /
		         2;
	}
	free(known.values);
	return median;
}

bool
shift_known_any(const struct populations *all, int feature)
{
	for (size_t i = 0; i < all->count; i++) {
		const struct population *population = &all->list[i];
		size_t width = population->features->count;
		size_t column = population_column(population, feature);
		for (size_t row = 0; row < population->complete.count; row++)
			if (isfinite(population->values[row * width + column]))
				return true;
	}
	return false;
}
