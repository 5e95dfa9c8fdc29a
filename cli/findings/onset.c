/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * When a finding began.  Sheets are held by what is said here, so a shot in doubt counts
 * as one that shows it, and as good only one that looks like any before.
 */
#include "cli/findings/match.h"

#include <math.h>

/* Standard deviations of a shot. */
#define SHOWS 3.0
#define ORDINARY 2.5

/* So much is nothing to speak of: of a figure that hardly scatters too. */
static double
limit(const struct track *track, double deviations)
{
	return fmax(deviations * track->sd, signal_row(track->signal)->least / 2);
}

static bool
shows(const struct onset *onset, size_t i)
{
	for (int k = 0; k < onset->count; k++) {
		const struct onset_signal *it = onset->signals + k;
		if (it->way * (it->track->rest[i] - it->base) > limit(it->track, SHOWS))
			return true;
	}
	return false;
}

/* Where the foremost figure is absent it may have been anything. */
static bool
is_ordinary(const struct onset *onset, size_t i)
{
	for (int k = 0; k < onset->count; k++) {
		const struct onset_signal *it = onset->signals + k;
		double off = fabs(it->track->rest[i] - it->base);
		if (off > limit(it->track, ORDINARY) || (k == 0 && isnan(off)))
			return false;
	}
	return true;
}

struct span
match_set_times(const struct run *run, const struct episode *episode,
    const struct onset *onset, struct finding *finding)
{
	size_t first = episode->first;

	while (first > 0 && shows(onset, first - 1))
		first--;
	size_t good = first;
	while (good > 0 && !is_ordinary(onset, good - 1))
		good--;
	finding->first_shot = finding->earliest_shot = run->shots[first]->shot_no;
	finding->first_at = finding->earliest_at = run->shots[first]->at;
	finding->cut = first == 0;
	finding->last_good = good > 0 ? run->shots[good - 1]->shot_no : 0;
	finding->last_shot = run->shots[episode->last]->shot_no;
	finding->lasting = episode->lasting;
	finding->times = 1;
	return (struct span){first, episode->last + 1};
}
