/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Holds what the tracker gave out against what truly happened.
 *
 * Every true sheet has exactly one record, about when it left; the record has the true
 * outcome, or is partial where one of the JUSTs below holds for that very sheet; its
 * windows are as uncertain as it says and not more; all readings in it bear the mark of
 * that sheet and of no other; and a sheet that nothing odd came near is complete, without
 * a flag.  One object belongs to one thread.
 */
#ifndef TESTS_SCENARIO_JUDGE_H
#define TESTS_SCENARIO_JUDGE_H

#include "tests/scenario/line.h"
#include "tests/scenario/plan.h"

struct shot;

/* Why a record may be partial. */
enum just {
	JUST_START,  /* it stood in the machine as a logger began without knowing it */
	JUST_MANUAL, /* it was in the machine while that was moved in manual */
	JUST_SILENCE, /* the bits were silent for longer than an edge may be uncertain, over
	               * one of its own edges, or while it was due to be formed; or for
	               * so long that any sheet may have come in its place */
	JUST_UNSEEN, /* a bit went there and back between two polls while it was in */
	JUST_COUNT
};

struct verdicts {
	int64_t sheets, records, clean, wrong,
	    mixed;                            /* mixed: more than one mark in one */
	int64_t unlogged;                     /* left while no logger knew of it */
	int64_t partial[JUST_COUNT], unclear; /* another outcome was as right */
};

struct judge;

/* Both are lent.  Of what is wrong it prints the first `tell` with `name` before them. */
struct judge *judge_new(
    const struct line *line, const struct plan *plan, const char *name, int tell);
void judge_free(struct judge *judge);

/* --- what the logger does; times are the line's ------------------------------------- */

/* A good poll of the controller, and the last one before it; `unseen`: a bit went there
 * and back meanwhile. */
void judge_poll(struct judge *judge, double asked_before_s, double at_s, bool unseen);
void judge_hazard(struct judge *judge, enum oddity oddity, double from_s, double to_s);
/* A logger began, having been away since down_s (0: for ever). */
void judge_start(struct judge *judge, double down_s, double at_s, bool resumed);
/* The wall clock is this far ahead of the line's time from now on. */
void judge_clock(struct judge *judge, double at_s, double ahead_s);
/* Takes it. */
void judge_shot(struct judge *judge, double given_s, struct shot *shot);

/* All is given out; the line was followed until end_s. */
void judge_end(struct judge *judge, double end_s, struct verdicts *verdicts);

#endif
