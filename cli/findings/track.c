/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/track.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Limits: found by running the simulated line healthy and with faults. */
#define LAMBDA 0.15     /* of the weighted mean */
#define LEVEL_LIMIT 4.3 /* its standard deviations */
#define STEP_LIMIT 5.5  /* of a step looked for everywhere */
#define LOT_LIMIT 4.0   /* of a step looked for at one place */
#define WINSOR 4.0      /* no single shot counts for more standard deviations */
#define END_LIMIT 5.0   /* of the sum that says it is over */

enum { STEP_SHOTS = 5, EPISODE_MIN = 3, START_SLACK = 8 };

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
	track->rest = track->doubt = NULL;
}

/* A precise signal must be able to get past what is worth a word. */
static double
held(const struct track *track, double value)
{
	const struct signal_row *row = signal_row(track->signal);
	double limit = fmax(WINSOR * track->sd, 3 * fmax(row->least, row->least_slow));
	return fmin(fmax(value, -limit), limit);
}

/* Means of stretches of shots, and the variances of an AR(1) series' means. */
struct stretch {
	size_t from, to; /* to: one past the last */
	int count;
	double mean, doubt;
};

static struct stretch
stretch_of(const struct track *track, size_t from, size_t to)
{
	struct stretch stretch = {from, to, 0, NAN, 0};
	double values[32], doubt = 0;
	size_t n = 0;

	for (size_t i = from; i < to && n < 32; i++) {
		if (!isfinite(track->rest[i]))
			continue;
		values[n++] = track->rest[i];
		doubt += track->doubt[i];
	}
	stretch.count = (int)n;
	if (n == 0)
		return stretch;
	stretch.doubt = doubt / (double)n;
	/* Mean of what lies within a few deviations of the median. */
	double median = signal_median(values, n, NULL), sum = 0;
	int kept = 0;
	for (size_t i = 0; i < n; i++)
		if (n < 5 || fabs(values[i] - median) <= WINSOR * track->sd) {
			sum += values[i];
			kept++;
		}
	stretch.mean = kept > 0 ? sum / kept : median;
	return stretch;
}

/* Covariance of the means of two stretches for a variance of 1, were every shot there. */
static double
covariance(const struct track *track, const struct stretch *a, const struct stretch *b)
{
	double sum = 0;

	for (size_t i = a->from; i < a->to; i++)
		for (size_t j = b->from; j < b->to; j++)
			sum += i == j ? 1
			              : pow(track->memory,
					    i > j ? (double)(i - j) : (double)(j - i));
	return sum / ((double)(a->to - a->from) * (double)(b->to - b->from));
}

static double
level_sd(const struct track *track, const struct stretch *stretch)
{
	double fill = (double)(stretch->to - stretch->from) / stretch->count;
	return sqrt(track->sd * track->sd * covariance(track, stretch, stretch) * fill +
		    stretch->doubt * stretch->doubt);
}

/* What both share, doubt about the level among it, cancels. */
static double
step_sd(const struct track *track, const struct stretch *a, const struct stretch *b)
{
	double fill_a = (double)(a->to - a->from) / a->count;
	double fill_b = (double)(b->to - b->from) / b->count;
	double variance = covariance(track, a, a) * fill_a +
	                  covariance(track, b, b) * fill_b -
	                  2 * covariance(track, a, b);
	double doubt = fabs(a->doubt - b->doubt);
	return sqrt(
	    track->step_sd * track->step_sd * fmax(variance, 0.02) + doubt * doubt);
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
	return *size / step_sd(track, &a, &b);
}

static struct found
find_step(const struct track *track, size_t from)
{
	double least = signal_row(track->signal)->least, best = 0;
	struct found found = {0};

	for (size_t i = from + 3; i + 3 <= track->count; i++) {
		double size = 0, before = 0,
		       step = step_at(track, i, STEP_SHOTS, &size, &before);
		if (found.yes && i > found.first + STEP_SHOTS)
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

/* The episode that was added; NULL: too short to be one. */
static const struct episode *
add_episode(struct track *track, const struct found *found)
{
	struct episode episode = {.first = found->first, .way = found->way};

	follow(track, found, &episode);
	if (episode.last - episode.first + 1 < EPISODE_MIN)
		return NULL;
	if (track->episode_count == TRACK_EPISODES)
		memmove(track->episodes, track->episodes + 1,
		    (size_t)--track->episode_count * sizeof(track->episodes[0]));
	track->episodes[track->episode_count] = episode;
	return &track->episodes[track->episode_count++];
}

void
track_watch(struct track *track)
{
	size_t from = 0;

	while (track->known && from + EPISODE_MIN < track->count) {
		struct found level = find_level(track, from),
			     step = find_step(track, from), *found = &level;
		if (!level.yes && !step.yes)
			return;
		if (step.yes && (!level.yes || step.first <= level.at))
			found = &step;
		const struct episode *episode = add_episode(track, found);
		from = episode ? episode->last + 1 : found->at + 1;
	}
}

void
track_test_at(struct track *track, size_t at)
{
	double size = 0, before = 0;
	double step = track->known && at > 0 && at < track->count
	                  ? step_at(track, at, 2 * STEP_SHOTS, &size, &before)
	                  : NAN;

	if (!(fabs(step) > LOT_LIMIT) ||
	    fabs(size) <= signal_row(track->signal)->least ||
	    track_episode_near(track, at, 3))
		return;
	struct found found = {true, at + 2, at, before, size > 0 ? 1 : -1};
	add_episode(track, &found);
}

struct episode *
track_episode_near(struct track *track, size_t first, size_t slack)
{
	for (int i = 0; i < track->episode_count; i++) {
		struct episode *episode = track->episodes + i;
		if (episode->first <= first + slack && first <= episode->first + slack)
			return episode;
	}
	return NULL;
}

enum { RECENT = 20, NEXT = 8 };

/* --- how far ------------------------------------------------------------------ */

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
	for (int i = 0; i < track->episode_count; i++)
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
		    step_sd(track, &before, &after), &after);
	if (just_before.count >= 3 && next.count >= 3)
		take_better(&measure, next.mean - just_before.mean,
		    step_sd(track, &just_before, &next), &next);
	if (before.count < 3 || !off_already(track, first))
		take_better(&measure, after.mean, level_sd(track, &after), &after);
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
