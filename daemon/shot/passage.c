/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/passage.h"

#include "daemon/shot/track.h"

#include <math.h>

enum { READINGS_MAX = 512 }; /* of the way; 25 s of readings 20 a second */

/* What the pyrometer showed last before the sheet moved; NAN: nothing. */
static double
before(const struct passage_source *source)
{
	struct track track;
	struct mono at;
	double value, last = NAN;

	track_start(&track, source->history, source->channel, source->still);
	while (track_next(&track, &at, &value))
		last = value;
	return last;
}

static bool
is_plausible(const struct passage_source *source, double c)
{
	return c >= PASSAGE_LEAST_C && c <= PASSAGE_MOST_C &&
	       !(c > source->limit_c + PASSAGE_OVER_DC);
}

static bool
is_beside(const double *c, size_t count, size_t i)
{
	return (i > 0 && fabs(c[i] - c[i - 1]) <= PASSAGE_WITHIN_DC) ||
	       (i + 1 < count && fabs(c[i] - c[i + 1]) <= PASSAGE_WITHIN_DC);
}

/* The mean of reading `top` and of those in a row with it that are hardly lower. */
static double
plateau_mean(const double *c, size_t count, size_t top)
{
	double least = c[top] - PASSAGE_WITHIN_DC, sum = 0.0;
	size_t from = top, to = top + 1;

	while (from > 0 && c[from - 1] >= least && c[from - 1] <= c[top])
		from--;
	while (to < count && c[to] >= least && c[to] <= c[top])
		to++;
	for (size_t i = from; i < to; i++)
		sum += c[i];
	return sum / (double)(to - from);
}

static struct measure
plateau(const struct passage_source *source, const double *c, size_t count)
{
	struct measure found = {NAN, ABSENT_LOW_COVERAGE};
	double wall_c = before(source);
	size_t top;

	while (count > 0 && fabs(c[0] - wall_c) <= PASSAGE_WITHIN_DC) {
		c++;
		count--;
	}
	top = count;
	for (size_t i = 0; i < count; i++)
		if (is_beside(c, count, i) && (top == count || c[i] > c[top]))
			top = i;
	if (top == count)
		return found;
	found.value = plateau_mean(c, count, top);
	if (is_plausible(source, found.value))
		found.absent = ABSENT_NOT;
	else
		found = (struct measure){NAN, ABSENT_OUT_OF_RANGE};
	return found;
}

struct measure
passage_find(const struct passage_source *source)
{
	double c[READINGS_MAX];
	size_t count = 0;
	struct shot_channel summary;
	struct track track;
	struct mono at;

	if (!source->way.known)
		return (struct measure){NAN, ABSENT_NOT_APPLICABLE};
	track_start(&track, source->history, source->channel, source->way);
	while (count < READINGS_MAX && track_next(&track, &at, &c[count]))
		count++;
	if (count > 0)
		return plateau(source, c, count);
	summary = window_summary(source->history, source->channel, source->way, 0.0);
	return (struct measure){NAN, summary.absent};
}
