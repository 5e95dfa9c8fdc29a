/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Holds one cause of the table against the signals of a run.
 */
#ifndef CLI_FINDINGS_MATCH_H
#define CLI_FINDINGS_MATCH_H

#include "cli/findings/pattern.h"
#include "cli/findings/gathered.h"
#include "cli/findings/track.h"

/* A run as the causes look at it. */
struct run {
	const struct profile *profile;
	const struct findings_shot **shots;
	struct signal_values *values;
	size_t count;
	size_t asked_first, asked_end; /* of them: those that are asked about */
	bool lots;                     /* known, of some shot at least */
	size_t *lot_changes;
	size_t lot_change_count;
	struct track tracks[SIGNAL_COUNT];
};

/* K by which one pyrometer may differ from its peers when all move. */
#define MATCH_SURFACE_ALONE 2.5
/* The share of the subject's deviation that its neighbours may show. */
#define MATCH_OTHERS_SHARE 0.4

struct match {
	const struct pattern *pattern;
	int position; /* from 0; -1: of none */
	bool mirrored;
	double score;
	bool undecided;
	int confirmed;
	double key_off,
	    key_sds; /* how far the key stands out; in standard deviations */
	int key;     /* signal */
	struct episode episode;
};

/* The signal that a sign is about when `position` is the subject's (-1: it has none). */
int match_resolve(int signal, int position);
bool match_is_group(int signal); /* of several signals at once */

/* Whether `pattern` fits what happened in `episode` of signal `key`. */
bool match_try(struct run *run, const struct pattern *pattern, int key,
    const struct episode *episode, bool mirrored, struct match *match);

/* Marks what the match explains (explain.c), and writes it down: the shots in which it
 * shows. */
void match_explain(struct run *run, const struct match *match);
struct span match_tell(
    struct run *run, const struct match *match, struct finding *finding);

/* Adds to the evidence how `signal` stood; nothing when its figure is told already or
 * there is no room. */
void match_add_evidence(struct run *run, int signal, size_t first, size_t last,
    bool moved, struct finding *finding);
/* Signals that show a finding, each its way from what it was before. */
struct onset {
	int count;
	struct onset_signal {
		const struct track *track;
		int way;
		double base;
	} signals[PATTERN_SIGNS];
};

/* When it showed (onset.c): never a shot too late.  Returns the shots in which it shows. */
struct span match_set_times(const struct run *run, const struct episode *episode,
    const struct onset *onset, struct finding *finding);

#endif
