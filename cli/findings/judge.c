/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/findings.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/findings/match.h"

enum { RUN_MIN = FINDINGS_SHOTS_MIN, TOGETHER = 12 };

/* --- the run --- */

/* Where the lot is another than before; shots without an entry are passed over. */
static void
find_lot_changes(struct run *run)
{
	const char *lot = run->profile->lot;

	for (size_t i = 0; i < run->count; i++) {
		const char *here = run->shots[i]->lot ? run->shots[i]->lot : "";
		if (!*here)
			continue;
		run->lots = true;
		if (*lot && strcmp(lot, here) != 0)
			run->lot_changes[run->lot_change_count++] = i;
		lot = here;
	}
}

static bool
watch_signals(struct run *run)
{
	for (int signal = 0; signal < SIGNAL_COUNT; signal++) {
		struct track *track = run->tracks + signal;
		if (!track_init(track, run->profile, signal, run->values, run->count))
			return false;
		track_watch(track);
		for (size_t i = 0; i < run->lot_change_count; i++)
			if (signal_row(signal)->domain == SIGNAL_HEAT)
				track_test_at(track, run->lot_changes[i]);
	}
	return true;
}

static void
run_free(struct run *run)
{
	if (!run)
		return;
	for (int signal = 0; signal < SIGNAL_COUNT; signal++)
		track_release(run->tracks + signal);
	free(run->shots);
	free(run->values);
	free(run->lot_changes);
	free(run);
}

static struct run *
run_new(const struct profile *profile, const struct findings_shot *shots, size_t count)
{
	struct run *run = calloc(1, sizeof(*run));

	if (!run)
		return NULL;
	run->profile = profile;
	run->shots = malloc((count + 1) * sizeof(const struct findings_shot *));
	run->values = malloc((count + 1) * sizeof(run->values[0]));
	run->lot_changes = malloc((count + 1) * sizeof(run->lot_changes[0]));
	if (!run->shots || !run->values || !run->lot_changes)
		goto fail;
	for (size_t i = 0; i < count; i++)
		if (shots[i].usual) {
			signal_values(
			    profile->middle, shots + i, run->values + run->count);
			run->shots[run->count++] = shots + i;
		}
	find_lot_changes(run);
	if (run->count >= RUN_MIN && !watch_signals(run))
		goto fail;
	return run;
fail:
	run_free(run);
	return NULL;
}

/* --- causes --- */

static bool
is_better(const struct match *a, const struct match *b)
{
	return !b->pattern || a->score > b->score ||
	       (!(a->score < b->score) && a->key_sds > b->key_sds);
}

/* The cause that fits best what is not explained yet; pattern NULL: none fits. */
static struct match
best_match(struct run *run)
{
	struct match best = {0}, match;

	for (int signal = 0; signal < SIGNAL_COUNT; signal++)
		for (int i = 0; i < run->tracks[signal].episode_count; i++) {
			struct episode *episode = run->tracks[signal].episodes + i;
			if (episode->explained)
				continue;
			const struct pattern *pattern;
			for (size_t p = 0; (pattern = pattern_get(p)); p++)
				for (int mirror = 0;
				     mirror < (pattern->both_ways ? 2 : 1); mirror++)
					if (match_try(run, pattern, signal, episode,
						mirror, &match) &&
					    is_better(&match, &best))
						best = match;
		}
	return best;
}

/* Something that would tell it from another cause is not measured. */
static bool
is_open(const struct match *match)
{
	return match->undecided || match->pattern->most == FINDING_POSSIBLE;
}

/* What explains the same episode as well as `best` does: when something is not measured
 * two causes may look alike. */
static size_t
tell_match(
    struct run *run, const struct match *best, struct finding *findings, size_t room)
{
	const struct pattern *pattern;
	struct match match;
	size_t n = 0;

	match_tell(run, best, findings + n++);
	for (size_t p = 0; is_open(best) && (pattern = pattern_get(p)) && n < room; p++)
		for (int mirror = 0; mirror < (pattern->both_ways ? 2 : 1); mirror++)
			if (pattern->cause != best->pattern->cause && n < room &&
			    match_try(run, pattern, best->key, &best->episode, mirror,
				&match) &&
			    is_open(&match) && match.score >= best->score - 0.5)
				match_tell(run, &match, findings + n++);
	return n;
}

/* --- what no cause explains --- */

static bool
belongs_with(const struct signal_row *row, int position, const struct episode *episode,
    const struct signal_row *row_b, int position_b, const struct episode *episode_b)
{
	if (row->domain != row_b->domain ||
	    (row->domain == SIGNAL_CIRCUIT && position != position_b))
		return false;
	return episode->first <= episode_b->last + TOGETHER &&
	       episode_b->first <= episode->last + TOGETHER;
}

/* The unexplained episode that stands out most; `how_far` 0: there is none. */
static struct episode *
foremost(struct run *run, int *signal_of, double *how_far)
{
	struct episode *most = NULL;

	*how_far = 0;
	for (int signal = 0; signal < SIGNAL_COUNT; signal++)
		for (int i = 0; i < run->tracks[signal].episode_count; i++) {
			struct episode *episode = run->tracks[signal].episodes + i;
			if (episode->explained || signal_row(signal)->derived)
				continue;
			struct measure measure = track_measure(
			    run->tracks + signal, episode->first, episode->last);
			double far =
			    measure.state == TRACK_UP || measure.state == TRACK_DOWN
				? fabs(measure.off) / measure.sd
				: 0;
			if (!(far > *how_far))
				continue;
			*how_far = far;
			*signal_of = signal;
			most = episode;
		}
	return most;
}

/* One finding for all that moved about then and belongs together. */
static void
tell_disagreement(struct run *run, int signal, struct episode *episode, double far,
    struct finding *finding)
{
	const struct signal_row *row = signal_row(signal);
	int position = signal_position(signal);
	struct episode whole = *episode;

	*finding = (struct finding){.cause = FINDING_DISAGREES,
	    .side = -1,
	    .sure = far >= 8   ? FINDING_SURE
	            : far >= 5 ? FINDING_LIKELY
	                       : FINDING_POSSIBLE,
	    .up = episode->way > 0,
	    .feature = signal_feature(signal)};
	if (position >= 0 && row->domain == SIGNAL_HEAT)
		finding->side = position / FEATURE_SURFACES_MAX;
	if (position >= 0)
		finding->position = finding->side >= 0
		                        ? position % FEATURE_SURFACES_MAX + 1
		                        : position + 1;
	match_add_evidence(run, signal, episode->first, episode->last, true, finding);
	for (int other = 0; other < SIGNAL_COUNT; other++)
		for (int i = 0; i < run->tracks[other].episode_count; i++) {
			struct episode *there = run->tracks[other].episodes + i;
			if (there->explained ||
			    !belongs_with(row, position, &whole, signal_row(other),
				signal_position(other), there))
				continue;
			there->explained = true;
			match_add_evidence(
			    run, other, there->first, there->last, true, finding);
		}
	episode->explained = true;
	match_set_times(run, episode, finding);
}

static int
compare(const void *a, const void *b)
{
	const struct finding *x = a, *y = b;
	bool named_x = x->cause != FINDING_DISAGREES,
	     named_y = y->cause != FINDING_DISAGREES;

	if (named_x != named_y)
		return named_x ? -1 : 1;
	if (x->sure != y->sure)
		return x->sure > y->sure ? -1 : 1;
	return (x->first_shot > y->first_shot) - (x->first_shot < y->first_shot);
}

size_t
findings_judge(const struct profile *profile, const struct findings_shot *shots,
    size_t count, struct finding *findings, size_t room)
{
	struct run *run = run_new(profile, shots, count);
	struct episode *episode;
	size_t n = 0;
	double far;
	int signal = 0;

	if (!run)
		return FINDINGS_NO_MEMORY;
	while (n < room) {
		struct match match = best_match(run);
		if (!match.pattern)
			break;
		n += tell_match(run, &match, findings + n, room - n);
		match_explain(run, &match);
	}
	while (n < room && (episode = foremost(run, &signal, &far)))
		tell_disagreement(run, signal, episode, far, findings + n++);
	run_free(run);
	qsort(findings, n, sizeof(findings[0]), compare);
	return n;
}
