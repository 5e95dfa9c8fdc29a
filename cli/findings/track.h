/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A signal along a run of shots: when it left what is usual, which way, how far, and
 * whether it came back.
 *
 * Slow departures: an exponentially weighted mean against limits that are widened for
 * the memory of the signal and for what the profile does not know.  Sudden ones: the
 * mean of a few shots against that of the few before, which needs no profile to be right
 * about the level.  Pure; one thread an object.
 */
#ifndef CLI_FINDINGS_TRACK_H
#define CLI_FINDINGS_TRACK_H

#include "cli/findings/profile.h"

struct episode {
	size_t first, last; /* shots of the run */
	bool lasting;       /* it reaches the run's end */
	int way;            /* 1 up, -1 down */
	double base;        /* the signal's rest before it */
	bool explained;     /* for whoever looks for causes */
};

struct track {
	bool known;
	int signal;
	size_t count;
	double *rest, *doubt; /* of each shot; NAN: absent */
	double sd, memory;
	double
	    step_sd; /* as sd: of differences, which a short reference knows as well */
	size_t episode_count, episode_room;
	struct episode *episodes;
};

/* False: no memory. */
bool track_init(struct track *track, const struct profile *profile, int signal,
    const struct signal_values *values, size_t count);
void track_release(struct track *track);

/* Finds the episodes, however many.  False: no memory. */
bool track_watch(struct track *track);

/* Tests for a step exactly before shot `at` (as a lot changes); adds an episode where
 * none begins near it.  False: no memory. */
bool track_test_at(struct track *track, size_t at);

/* The episode that begins or goes on at most `slack` shots from `first`, or NULL. */
struct episode *track_episode_near(struct track *track, size_t first, size_t slack);

enum track_state {
	TRACK_ABSENT,  /* not measured */
	TRACK_UNCLEAR, /* a deviation that matters could hide in the noise */
	TRACK_STILL,
	TRACK_UP,
	TRACK_DOWN,
};

struct measure {
	enum track_state state;
	double off, sd;  /* the deviation and the standard deviation of that figure */
	size_t from, to; /* the shots in which it was seen */
};

/* How the signal stands in the shots first ... last, against the profile or against the
 * shots before `first`, whichever is known better. */
struct measure track_measure(const struct track *track, size_t first, size_t last);

/* The same of the first shots alone: what happens later may hide it. */
struct measure track_measure_onset(
    const struct track *track, size_t first, size_t last);

#endif
