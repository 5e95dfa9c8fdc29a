/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/track.h"

#include <math.h>
#include <stdlib.h>

#include "cli/findings/stretch.h"

/* Limits: found by running the simulated line healthy and with faults. */
#define LAMBDA 0.15     /* of the weighted mean */
#define LEVEL_LIMIT 4.3 /* its standard deviations */
#define STEP_LIMIT 5.5  /* of a step looked for everywhere */
#define LOT_LIMIT 4.0   /* of a step looked for at one place */
#define WINSOR 4.0      /* no single shot counts for more standard deviations */
#define END_LIMIT 5.0   /* of the sum that says it is over */

enum { STEP_SHOTS = 5, EPISODE_MIN = 3 };

bool
track_init(struct track *track, const struct profile *profile, int signal,
    const struct signal_values *values, size_t count)
{
	const struct fit *fit = profile->fits + signal;

	*track = (struct track){.signal = signal, .count = count};
	if (!fit->known || count == 0)
		return true;
	track->rest = malloc(2 * count * sizeof(double));
	if (!track->rest)
		return false;
	track->doubt = track->rest + count;
	track->sd = fit->sd;
	track->step_sd = fit->plain_sd;
	track->memory = fit->memory;
	for (size_t i = 0; i < count; i++) {
		struct rest rest = profile_rest(profile, signal, values + i);
		track->rest[i] = rest.value;
		track->doubt[i] = rest.doubt;
		track->known |= isfinite(rest.value);
	}
	return true;
}

void
track_release(struct track *track)
{
	free(track->rest);
	free(track->episodes);
	*track = (struct track){0};
}

/* A precise signal must be able to get past what is worth a word. */
static double
held(const struct track *track, double value)
{
	const struct signal_row *row = signal_row(track->signal);
	double limit = fmax(WINSOR * track->sd, 3 * fmax(row->least, row->least_slow));
	return fmin(fmax(value, -limit), limit);
}

/* --- when -------------------------------------------------------------------- */

struct found {
	bool yes;
	size_t at; /* the shot that shows it */
	size_t first;
	double base;
	int way;
};

/* The last time that a sum of what exceeds half of the deviation from `base` was zero. */
static size_t
start_before(const struct track *track, size_t from, size_t at, int way, double base)
{
	struct stretch now =
	    stretch_of(track, at, at + 3 < track->count ? at + 3 : at + 1);
	double size = isfinite(now.mean) ? fabs(held(track, now.mean - base)) : 0;
	double allowance = fmax(0.5 * track->sd, size / 2), sum = 0;
	size_t start = from;

	for (size_t i = from; i <= at; i++) {
		if (!isfinite(track->rest[i]))
			continue;
		sum += way * held(track, track->rest[i] - base) - allowance;
		if (sum <= 0) {
			sum = 0;
			start = i + 1;
		}
	}
	return start <= at ? start : at;
}

static struct found
find_level(const struct track *track, size_t from)
{
	const struct signal_row *row = signal_row(track->signal);
	double least = row->least_slow > 0 ? row->least_slow : row->least;
	double keep = 1 - LAMBDA, rho = track->memory * keep;
	double variance =
	    track->sd * track->sd * LAMBDA / (2 - LAMBDA) * (1 + rho) / (1 - rho);
	double mean = 0, gone = 1;

	for (size_t i = from; i < track->count; i++) {
		if (!isfinite(track->rest[i]))
			continue;
		mean = keep * mean + LAMBDA * held(track, track->rest[i]);
		gone *= keep * keep;
		double sd =
		    sqrt(variance * (1 - gone) + track->doubt[i] * track->doubt[i]);
		if (fabs(mean) <= LEVEL_LIMIT * sd || fabs(mean) <= least)
			continue;
		int way = mean > 0 ? 1 : -1;
		return (struct found){
		    true, i, start_before(track, from, i, way, 0), 0, way};
	}
	return (struct found){0};
}

/* The step before shot `i`, in its standard deviations; NAN when it cannot be said. */
static double
step_at(const struct track *track, size_t i, size_t shots, double *size, double *before)
{
	size_t from = i > shots ? i - shots : 0;
	size_t to = i + shots < track->count ? i + shots : track->count;
	struct stretch a = stretch_of(track, from, i), b = stretch_of(track, i, to);

	if (a.count < 3 || b.count < 3)
		return NAN;
	*size = b.mean - a.mean;
	*before = a.mean;
	return *size / stretch_step_sd(track, &a, &b);
}

/* The first step that shows in the shots until `until`. */
static struct found
find_step(const struct track *track, size_t from, size_t until)
{
	double least = signal_row(track->signal)->least, best = 0;
	struct found found = {0};

	for (size_t i = from + 3; i + 3 <= track->count; i++) {
		double size = 0, before = 0,
		       step = step_at(track, i, STEP_SHOTS, &size, &before);
		if (i > (found.yes ? found.first : until) + STEP_SHOTS)
			break;
		if (!(fabs(step) > STEP_LIMIT) || fabs(size) <= least ||
		    fabs(step) <= best)
			continue;
		best = fabs(step);
		found = (struct found){true, i + 2, i, before, size > 0 ? 1 : -1};
	}
	if (found.yes)
		found.first = start_before(track,
		    found.first > from + STEP_SHOTS ? found.first - STEP_SHOTS : from,
		    found.first, found.way, found.base);
	return found;
}

/* Follows an episode to its end: where a sum of what lies on this side of half of the
 * deviation has grown large. */
static void
follow(const struct track *track, const struct found *found, struct episode *episode)
{
	double sum = 0, mean = 0, peak = 0;
	size_t back = found->first;

	episode->lasting = true;
	episode->last = track->count - 1;
	for (size_t i = found->first; i < track->count; i++) {
		if (!isfinite(track->rest[i]))
			continue;
		double off = found->way * held(track, track->rest[i] - found->base);
		mean += 0.3 * (off - mean);
		peak = fmax(peak, mean);
		sum = fmax(0, sum + (fmax(peak, track->sd) / 2 - off) / track->sd);
		if (sum <= 0)
			back = i;
		if (sum > END_LIMIT && i > found->at) {
			episode->last = back;
			episode->lasting = false;
			return;
		}
	}
}

static bool
keep_episode(struct track *track, const struct episode *episode)
{
	if (track->episode_count == track->episode_room) {
		size_t room = track->episode_room ? 2 * track->episode_room : 8;
		struct episode *episodes =
		    reallocarray(track->episodes, room, sizeof(*episodes));
		if (!episodes)
			return false;
		track->episodes = episodes;
		track->episode_room = room;
	}
	track->episodes[track->episode_count++] = *episode;
	return true;
}

/* Adds the episode unless it is too short to be one; `*next` is the shot from which to
 * look for another. */
static bool
add_episode(struct track *track, const struct found *found, size_t *next)
{
	struct episode episode = {
	    .first = found->first, .way = found->way, .base = found->base};

	follow(track, found, &episode);
	*next = found->at + 1;
	if (episode.last - episode.first + 1 < EPISODE_MIN)
		return true;
	*next = episode.last + 1;
	return keep_episode(track, &episode);
}

bool
track_watch(struct track *track)
{
	size_t from = 0;

	while (track->known && from + EPISODE_MIN < track->count) {
		struct found level = find_level(track, from);
		struct found step =
		    find_step(track, from, level.yes ? level.at : track->count);
		bool steps = step.yes && (!level.yes || step.first <= level.at);
		if (!level.yes && !steps)
			return true;
		if (!add_episode(track, steps ? &step : &level, &from))
			return false;
	}
	return true;
}

bool
track_test_at(struct track *track, size_t at)
{
	double size = 0, before = 0;
	double step = track->known && at > 0 && at < track->count
	                  ? step_at(track, at, 2 * STEP_SHOTS, &size, &before)
	                  : NAN;
	size_t next;

	if (!(fabs(step) > LOT_LIMIT) ||
	    fabs(size) <= signal_row(track->signal)->least ||
	    track_episode_near(track, at, 3))
		return true;
	struct found found = {true, at + 2, at, before, size > 0 ? 1 : -1};
	return add_episode(track, &found, &next);
}

struct episode *
track_episode_near(struct track *track, size_t first, size_t slack)
{
	for (size_t i = 0; i < track->episode_count; i++) {
		struct episode *episode = track->episodes + i;
		if (episode->first <= first + slack && first <= episode->first + slack)
			return episode;
	}
	return NULL;
}
