/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/findings.h"

#include <stdlib.h>
#include <string.h>

#include "cli/findings/match.h"
#include "cli/findings/gathered.h"

enum { RUN_MIN = FINDINGS_SHOTS_MIN };

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
		if (!track_watch(track))
			return false;
		for (size_t i = 0; i < run->lot_change_count; i++)
			if (signal_row(signal)->domain == SIGNAL_HEAT &&
			    !track_test_at(track, run->lot_changes[i]))
				return false;
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
run_new(const struct profile *profile, const struct findings_run *asked)
{
	const struct findings_shot *shots = asked->shots;
	size_t count = asked->count;
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
			run->asked_first += i < asked->first;
			run->asked_end += i <= asked->last;
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

/* A cause that fits an episode. */
struct candidate {
	struct match match;
	struct episode *episode;
	size_t order;
};

struct candidates {
	struct candidate *list;
	size_t count, room;
};

static bool
add_candidate(
    struct candidates *all, const struct match *match, struct episode *episode)
{
	if (all->count == all->room) {
		size_t room = all->room ? 2 * all->room : 32;
		struct candidate *list = reallocarray(all->list, room, sizeof(*list));
		if (!list)
			return false;
		all->list = list;
		all->room = room;
	}
	all->list[all->count] = (struct candidate){*match, episode, all->count};
	all->count++;
	return true;
}

static bool
try_patterns(
    struct run *run, int signal, struct episode *episode, struct candidates *all)
{
	const struct pattern *pattern;
	struct match match;

	for (size_t p = 0; (pattern = pattern_get(p)); p++)
		for (int mirror = 0; mirror < (pattern->both_ways ? 2 : 1); mirror++)
			if (match_try(run, pattern, signal, episode, mirror, &match) &&
			    !add_candidate(all, &match, episode))
				return false;
	return true;
}

/* The best first. */
static int
compare_candidates(const void *a, const void *b)
{
	const struct candidate *x = a, *y = b;

	if (x->match.score > y->match.score || x->match.score < y->match.score)
		return x->match.score > y->match.score ? -1 : 1;
	if (x->match.key_sds > y->match.key_sds || x->match.key_sds < y->match.key_sds)
		return x->match.key_sds > y->match.key_sds ? -1 : 1;
	return (x->order > y->order) - (x->order < y->order);
}

/* Something that would tell it from another cause is not measured. */
static bool
is_open(const struct match *match)
{
	return match->undecided || match->pattern->most == FINDING_POSSIBLE;
}

static bool
tell_one(struct run *run, const struct match *match, struct gathered *told)
{
	struct finding finding;
	struct span span = match_tell(run, match, &finding);

	return gathered_add(told, &finding, span);
}

/* With what explains the same episode as well as `best` does: when something is not
 * measured two causes may look alike. */
static bool
tell_match(struct run *run, const struct match *best, struct gathered *told)
{
	const struct pattern *pattern;
	struct match match;

	if (!tell_one(run, best, told))
		return false;
	for (size_t p = 0; is_open(best) && (pattern = pattern_get(p)); p++)
		for (int mirror = 0; mirror < (pattern->both_ways ? 2 : 1); mirror++)
			if (pattern->cause != best->pattern->cause &&
			    match_try(run, pattern, best->key, &best->episode, mirror,
				&match) &&
			    is_open(&match) && match.score >= best->score - 0.5 &&
			    !tell_one(run, &match, told))
				return false;
	return true;
}

/* Whether a cause fits depends on the run alone, so all are tried once; then the best is
 * told, and of the others those whose episode it does not explain. */
static bool
tell_causes(struct run *run, struct gathered *told)
{
	struct candidates all = {0};
	bool done = true;

	for (int signal = 0; signal < SIGNAL_COUNT; signal++)
		for (size_t i = 0; done && i < run->tracks[signal].episode_count; i++)
			done = try_patterns(
			    run, signal, run->tracks[signal].episodes + i, &all);
	if (done && all.count > 0)
		qsort(all.list, all.count, sizeof(all.list[0]), compare_candidates);
	for (size_t i = 0; done && i < all.count; i++) {
		if (all.list[i].episode->explained)
			continue;
		done = tell_match(run, &all.list[i].match, told);
		match_explain(run, &all.list[i].match);
		all.list[i].episode->explained = true;
	}
	free(all.list);
	return done;
}

size_t
findings_judge(const struct profile *profile, const struct findings_run *asked,
    struct finding *findings, size_t room)
{
	struct run *run = run_new(profile, asked);
	struct gathered told = {0};
	size_t n = FINDINGS_NO_MEMORY;

	if (!run)
		return FINDINGS_NO_MEMORY;
	told.asked = (struct span){run->asked_first, run->asked_end};
	if (tell_causes(run, &told) && disagree_tell(run, &told))
		n = gathered_write(&told, findings, room);
	gathered_release(&told);
	run_free(run);
	return n;
}
