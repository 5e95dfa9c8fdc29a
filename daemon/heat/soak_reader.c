/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "daemon/heat/soak_inside.h"

/* Readings of the last seconds say how steeply a surface goes on: common practice, no
 * source; a lag is shorter. */
#define SLOPE_S 5.0

/* Least squares over the last seconds, 0 from one reading. */
static double
find_slope(const struct soak_reader *reader)
{
	const double *s = reader->history->s, *c = reader->history->c;
	double count = 0, mean_s = 0, mean_c = 0, above = 0, below = 0;
	size_t first = reader->last;

	while (first > reader->first && s[reader->last] - s[first - 1] <= SLOPE_S)
		first--;
	for (size_t i = first; i <= reader->last; i++) {
		count++;
		mean_s += (s[i] - mean_s) / count;
		mean_c += (c[i] - mean_c) / count;
	}
	for (size_t i = first; i <= reader->last; i++) {
		above += (s[i] - mean_s) * (c[i] - mean_c);
		below += (s[i] - mean_s) * (s[i] - mean_s);
	}
	return below > 0 ? above / below : 0;
}

bool
soak_reader_init(struct soak_reader *reader, const struct soak_history *history,
    double from_s, double to_s)
{
	size_t first = 0, end = history->count;

	reader->history = NULL;
	while (first < end && history->s[first] < from_s)
		first++;
	while (end > first && history->s[end - 1] > to_s)
		end--;
	if (first == end)
		return false;
	reader->history = history;
	reader->first = first;
	reader->last = end - 1;
	reader->at = first;
	reader->slope = find_slope(reader);
	reader->reach_s = 0;
	return true;
}

double
soak_reader_at(struct soak_reader *reader, double s)
{
	const double *at = reader->history->s, *c = reader->history->c;
	size_t last = reader->last;

	if (s <= at[reader->first])
		return c[reader->first];
	if (s >= at[last])
		return c[last] + reader->slope * fmin(s - at[last], reader->reach_s);
	if (at[reader->at] > s)
		reader->at = reader->first;
	while (at[reader->at + 1] < s)
		reader->at++;
	return c[reader->at] + (c[reader->at + 1] - c[reader->at]) *
	                           (s - at[reader->at]) /
	                           (at[reader->at + 1] - at[reader->at]);
}
