/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/limit.h"

#include "daemon/base/error.h"
#include "daemon/shot/features_inside.h"
#include "daemon/shot/track.h"

#include <math.h>

#define LOOK_S 0.25 /* the line through the readings is looked at so often */

/* How long a line from one value to another is above the limit. */
static double
above_s(double from_c, double to_c, double limit_c, double step_s)
{
	if (from_c > limit_c && to_c > limit_c)
		return step_s;
	if (!(from_c > limit_c) && !(to_c > limit_c))
		return 0.0;
	return step_s * (fmax(from_c, to_c) - limit_c) / fabs(to_c - from_c);
}

/* --- by readings ---------------------------------------------------------------------- */

/* Those of both sides that do not hang; how many. */
static size_t
start_tracks(const struct feature_source *source, int number, struct track *tracks)
{
	const struct stay *stay = &source->sheet->stays[number];
	const struct oven_roles *oven = &source->roles->ovens[stay->oven];
	struct window window = sheet_stay_window(stay);
	size_t count = 0;

	for (int side = 0; side < 2; side++)
		for (int i = 0; i < oven->surface_count[side]; i++)
			if (!feature_is_stuck(
				source, oven->surface[side][i], number, window))
				track_start(&tracks[count++], source->history,
				    oven->surface[side][i], window);
	return count;
}

static double
warmest_c(struct track *tracks, size_t count, struct mono at)
{
	double warmest_c = NAN;

	for (size_t i = 0; i < count; i++)
		warmest_c = fmax(warmest_c, track_at(&tracks[i], at));
	return warmest_c;
}

static double
seen_above_s(const struct feature_source *source, int number, double limit_c)
{
	const struct stay *stay = &source->sheet->stays[number];
	struct track tracks[2 * FEATURE_SURFACES_MAX];
	size_t count = start_tracks(source, number, tracks);
	struct mono at = edge_time(&stay->in), end = edge_time(&stay->out);
	double sum_s = 0.0, from_c = warmest_c(tracks, count, at);

	while (at.ns < end.ns) {
		struct mono next = {
		    at.ns + (int64_t)(LOOK_S * (double)CLOCK_SECOND_NS)};
		double to_c;

		if (next.ns > end.ns)
			next = end;
		to_c = warmest_c(tracks, count, next);
		sum_s += above_s(from_c, to_c, limit_c,
		    (double)(next.ns - at.ns) / (double)CLOCK_SECOND_NS);
		from_c = to_c;
		at = next;
	}
	return sum_s;
}

/* --- as computed ----------------------------------------------------------------------- */

struct computed {
	const struct soak_case *soak;
	size_t stretch;
	double s, c; /* as it was last */
	double sum_s;
};

static void
take(void *arg, double s, const double c[SOAK_NODES])
{
	struct computed *computed = arg;
	const struct soak_case *soak = computed->soak;
	double surface_c = fmax(c[0], c[SOAK_NODES - 1]);

	while (computed->stretch + 1 < soak->stretch_count &&
	       s > soak->stretches[computed->stretch].to_s + 1e-6)
		computed->stretch++;
	if (soak->stretches[computed->stretch].boundary != SOAK_SURFACES)
		computed->sum_s +=
		    above_s(computed->c, surface_c, soak->limit_c, s - computed->s);
	computed->s = s;
	computed->c = surface_c;
}

double
limit_above_s(const struct feature_source *source, const struct core *core)
{
	struct computed computed = {.soak = &core->soak, .c = core->soak.start_c};
	struct soak_watch watch = {take, &computed};
	struct soak_result result;
	struct error error;

	computed.s = core->soak.stretches[0].from_s;
	if (soak_follow(&core->soak, &watch, &result, &error) != 0)
		return NAN;
	for (int i = 0;
	     source->line->view == VIEW_OVEN && i < source->sheet->stay_count; i++)
		computed.sum_s += seen_above_s(source, i, core->soak.limit_c);
	return computed.sum_s;
}
