/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/stuck.h"

#include "daemon/shot/track.h"

#include <math.h>

/* Highest minus lowest good reading; 0 without any. */
static double
movement(const struct history *history, uint32_t channel, struct window window)
{
	double low = INFINITY, high = -INFINITY, value;
	struct track track;
	struct mono at;

	track_start(&track, history, channel, window);
	while (track_next(&track, &at, &value)) {
		low = fmin(low, value);
		high = fmax(high, value);
	}
	return high > low ? high - low : 0.0;
}

static bool
others_move(const struct history *history, uint32_t channel, const uint32_t *others,
    size_t count, struct window window)
{
	size_t moving = 0, compared = 0;

	for (size_t i = 0; i < count; i++) {
		if (others[i] == channel)
			continue;
		compared++;
		moving += movement(history, others[i], window) > STUCK_OTHERS_DC;
	}
	return moving > 0 && 2 * moving >= compared;
}

/* Readings in a row that are the same. */
struct run {
	size_t count;
	double value;
	struct window window;
};

static bool
is_long(const struct run *run, struct window part)
{
	return run->count >= STUCK_READINGS && window_s(run->window) >= STUCK_S &&
	       run->window.to.ns >= part.from.ns && run->window.from.ns <= part.to.ns;
}

bool
stuck_within(const struct history *history, uint32_t channel, const uint32_t *others,
    size_t count, struct window window, struct window part)
{
	struct run run = {0};
	struct track track;
	struct mono at;
	double value;
	bool stuck = false;

	if (!window.known || !part.known)
		return false;
	track_start(&track, history, channel, window);
	while (!stuck && track_next(&track, &at, &value)) {
		if (run.count > 0 && value == run.value) {
			run.count++;
			run.window.to = at;
			continue;
		}
		stuck = is_long(&run, part) &&
		        others_move(history, channel, others, count, run.window);
		run = (struct run){1, value, {true, at, at}};
	}
	return stuck || (is_long(&run, part) &&
			    others_move(history, channel, others, count, run.window));
}
