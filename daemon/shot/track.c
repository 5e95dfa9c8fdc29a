/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/track.h"

#include <math.h>

void
track_start(struct track *track, const struct history *history, uint32_t channel,
    struct window window)
{
	*track = (struct track){.more = true};
	if (window.known)
		track->series =
		    history_series(history, channel, window.from, window.to);
}

bool
track_next(struct track *track, struct mono *at, double *value)
{
	while (track->next < track->series.count) {
		struct reading reading = series_reading(&track->series, track->next);

		*at = series_time(&track->series, track->next++);
		*value = reading.value;
		if (reading.quality == QUALITY_GOOD)
			return true;
	}
	return false;
}

/* Goes on to the next good reading. */
static void
step(struct track *track)
{
	struct mono at;
	double value;

	if (track->any)
		track->left = track->right;
	track->more = track_next(track, &at, &value);
	if (!track->more)
		return;
	track->right.ns = at.ns;
	track->right.value = value;
	if (!track->any)
		track->left = track->right;
	track->any = true;
}

double
track_at(struct track *track, struct mono at)
{
	while (track->more && (!track->any || track->right.ns <= at.ns))
		step(track);
	if (!track->any)
		return NAN;
	if (!track->more || at.ns <= track->left.ns)
		return track->left.value;
	return track->left.value + (track->right.value - track->left.value) *
	                               (double)(at.ns - track->left.ns) /
	                               (double)(track->right.ns - track->left.ns);
}
