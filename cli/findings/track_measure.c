/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far a signal is off in an episode. */
#include "cli/findings/stretch.h"

#include <math.h>

enum { RECENT = 20, NEXT = 8, START_SLACK = 8 };

/* Shots until a step is seen whole: a tool takes several. */
static size_t
settling(int signal)
{
	return signal_row(signal)->domain == SIGNAL_HEAT ? 0 : 3;
}

/* Whether it had left the usual long before `first`, so that the level says nothing. */
static bool
off_already(const struct track *track, size_t first)
{
	for (size_t i = 0; i < track->episode_count; i++)
		if (track->episodes[i].first + START_SLACK < first &&
		    track->episodes[i].last + 1 >= first)
			return true;
	return false;
}

static void
take_better(struct measure *best, double off, double sd, const struct stretch *seen)
{
	bool further = fabs(off) / sd > fabs(best->off) / best->sd;

	if (isfinite(best->off) && !(further && sd <= 2 * best->sd) && sd >= best->sd)
		return;
	if (isfinite(off) && isfinite(sd))
		*best =
		    (struct measure){TRACK_UNCLEAR, off, sd, seen->from, seen->to - 1};
}

/* The best of: the level; recent shots against those before; the first ones against
 * those just before. */
static struct measure
best_measure(const struct track *track, size_t first, size_t last)
{
	struct measure measure = {TRACK_ABSENT, NAN, INFINITY, first, last};
	size_t settled = first + settling(track->signal);
	/* The shot just before may have had part of it. */
	size_t clear = first > 1 ? first - 1 : first, end = last + 1;

	settled = settled > last ? last : settled;
	struct stretch after =
	    stretch_of(track, end > settled + RECENT ? end - RECENT : settled, end);
	struct stretch next =
	    stretch_of(track, settled, settled + NEXT <= end ? settled + NEXT : end);
	struct stretch before =
	    stretch_of(track, clear > RECENT ? clear - RECENT : 0, clear);
	struct stretch just_before =
	    stretch_of(track, clear > NEXT ? clear - NEXT : 0, clear);
	if (after.count < 2)
		return measure;
	if (before.count >= 3)
		take_better(&measure, after.mean - before.mean,
		    stretch_step_sd(track, &before, &after), &after);
	if (just_before.count >= 3 && next.count >= 3)
		take_better(&measure, next.mean - just_before.mean,
		    stretch_step_sd(track, &just_before, &next), &next);
	if (before.count < 3 || !off_already(track, first))
		take_better(
		    &measure, after.mean, stretch_level_sd(track, &after), &after);
	return measure;
}

static void
set_state(const struct track *track, struct measure *measure)
{
	double least = signal_row(track->signal)->least;

	if (!isfinite(measure->off))
		return;
	if (fabs(measure->off) > 3 * measure->sd && fabs(measure->off) > least)
		measure->state = measure->off > 0 ? TRACK_UP : TRACK_DOWN;
	else if (fabs(measure->off) <= least && measure->sd <= 1.5 * least)
		measure->state = TRACK_STILL;
}

struct measure
track_measure(const struct track *track, size_t first, size_t last)
{
	struct measure measure = {TRACK_ABSENT, NAN, INFINITY, first, last};

	if (track->known)
		measure = best_measure(track, first, last);
	set_state(track, &measure);
	return measure;
}

struct measure
track_measure_onset(const struct track *track, size_t first, size_t last)
{
	size_t end = first + NEXT + 2 <= last ? first + NEXT + 2 : last;

	return track_measure(track, first, end);
}
