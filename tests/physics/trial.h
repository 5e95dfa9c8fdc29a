/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A plant with a profile from a healthy day of its own, a fault that begins with a known
 * sheet on another day, and what the findings make of it.
 */
#ifndef TESTS_PHYSICS_TRIAL_H
#define TESTS_PHYSICS_TRIAL_H

#include "cli/findings/findings.h"

#include <stdbool.h>

enum {
	FAULT_STRENGTHS = 3,
	TRIAL_REFERENCE = 150,
	TRIAL_BEFORE = 20,
	TRIAL_AFTER = 60
};

struct fault {
	const char *name;
	enum finding_cause cause; /* that must be named, ... */
	int position, side;       /* ... with this; side -1: of none */
	int up;                   /* 1 up, 0 down, -1: it does not matter */
	/* Events, from weak to strong, each without its "sheet NUMBER"; ';' between two. */
	const char *events[FAULT_STRENGTHS];
	const char *strength[FAULT_STRENGTHS]; /* for people */
};
extern const struct fault faults[];
extern const int fault_count;

/* Shots in the order of their time. */
struct shots {
	struct findings_shot *list;
	char (*lots)[32];
	int64_t *sheets; /* linesim's number of each */
	size_t count, room;
};
void shots_free(struct shots *shots);

/* A plant of one seed: its sensors stay as they are from day to day. */
struct trial {
	const struct settings *settings;
	unsigned seed;
	struct profile *profile;
};

/* Learns from TRIAL_REFERENCE shots of a healthy day; exits when it cannot. */
struct trial *trial_new(const struct settings *settings, unsigned seed);
void trial_free(struct trial *trial);

enum trial_outcome {
	TRIAL_NAMED,     /* the right cause, at the right place */
	TRIAL_DISAGREES, /* figures disagree, no cause is named */
	TRIAL_WRONG,     /* another cause is named and the right one is not */
	TRIAL_MISSED,
	TRIAL_OUTCOMES
};

struct trial_result {
	enum trial_outcome outcome;
	int others;               /* wrong causes that are named as well */
	int shots_until;          /* with the fault until it is named; 0: never */
	int64_t first_error;      /* of first_shot, in shots; of TRIAL_NAMED */
	enum finding_cause wrong; /* TRIAL_WRONG: the foremost */
};
struct trial_result trial_fault(
    const struct trial *trial, const struct fault *fault, int strength);

/* Prints what is found at the end of such a trial, in words. */
void trial_tell(const struct trial *trial, const struct fault *fault, int strength);

/* Healthy shots, `count` a run, another day each; what is named although nothing is
 * wrong, by cause.  Every second run changes its lot for another of the same. */
void trial_healthy(const struct trial *trial, int runs, int count,
    int alarms[static FINDING_CAUSE_COUNT]);

#endif
