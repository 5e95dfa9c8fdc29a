/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/suspect_stability.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/population/judgement.h"

/* The complete shots of one kind among those asked about. */
struct together {
	size_t *shots;
	double *values;
	bool *breaks;
	size_t count;
};

static bool
is_alike(const struct ledger_shot *a, const struct ledger_shot *b)
{
	return strcmp(a->recipe, b->recipe) == 0 && strcmp(a->tool, b->tool) == 0 &&
	       strcmp(a->lot, b->lot) == 0 && strcmp(a->material, b->material) == 0;
}

/* Those that are like shot `from`, and were not taken before. */
static void
gather(struct together *together, const struct suspect_asked *asked, size_t from,
    bool *taken)
{
	together->count = 0;
	for (size_t i = from; i <= asked->last; i++) {
		const struct ledger_shot *shot = &asked->shots[i];
		if (taken[i] || shot->outcome != SHOT_COMPLETE ||
		    !is_alike(shot, &asked->shots[from]))
			continue;
		taken[i] = true;
		together->shots[together->count++] = i;
	}
}

/* What lies outside a limit is held whatever the others do: it is left out, so that one far
 * out makes no step of its neighbours. */
static void
fill(struct together *together, const struct suspect_asked *asked, int feature,
    double lower, double upper)
{
	for (size_t k = 0; k < together->count; k++) {
		const struct ledger_shot *shot = &asked->shots[together->shots[k]];
		double value = shot->value[feature];
		together->values[k] = value < lower || value > upper ? NAN : value;
		together->breaks[k] =
		    k == 0 ||
		    shot->shot_no != asked->shots[together->shots[k - 1]].shot_no + 1;
	}
}

/* Adds shot k of those together. */
static bool
move(struct suspects *suspects, struct suspect_moved *moved,
    const struct together *together, size_t k)
{
	size_t shot = together->shots[k];
	const struct suspect_reason reason = {.kind = SUSPECT_UNSTABLE,
	    .shot = shot,
	    .feature = moved->feature,
	    .onset = moved->onset};

	if (moved->numbers.count == 0)
		moved->first = shot;
	moved->last = shot;
	suspects->has_moved[shot] = true;
	if (suspects->asked->unstable && !suspects_add(suspects, &reason))
		return false;
	return numbers_add(&moved->numbers, suspects->asked->shots[shot].shot_no);
}

/* What stands out by itself, and nothing lasts; else all from the onset on. */
static bool
is_moved(const struct together *together, const struct study *study, size_t k)
{
	const struct interval *steady = &study->steady;
	double value = together->values[k];

	if (study->onset.kind == ONSET_SINGLE)
		return value < steady->low || value > steady->high;
	return k + 1 >= study->onset.least && !isnan(value);
}

static bool
fill_moved(struct suspects *suspects, struct suspect_moved *moved,
    const struct together *together, const struct study *study)
{
	const struct onset *onset = &study->onset;
	bool done = true;

	if (onset->kind != ONSET_SINGLE) {
		moved->earliest = together->shots[onset->least - 1];
		moved->likely = together->shots[onset->slot - 1];
		moved->latest = together->shots[onset->most - 1];
	}
	for (size_t k = 0; k < together->count && done; k++)
		if (is_moved(together, study, k))
			done = move(suspects, moved, together, k);
	return done;
}

/* A series that wanders has no beginning: that is told, and nothing is taken to have moved. */
static bool
move_from_onset(struct suspects *suspects, const struct together *together,
    const struct study *study, int feature)
{
	const struct onset *onset = &study->onset;

	suspects->wanders[feature] |= onset->kind == ONSET_NONE;
	if (onset->kind == ONSET_NONE ||
	    (onset->kind != ONSET_SINGLE && onset->least == 0))
		return true;
	struct suspect_moved *list =
	    reallocarray(suspects->moved, suspects->moved_count + 1, sizeof *list);
	if (!list)
		return false;
	suspects->moved = list;
	struct suspect_moved *moved = &list[suspects->moved_count++];
	*moved = (struct suspect_moved){.feature = feature,
	    .onset = onset->kind,
	    .likely = SUSPECT_NONE,
	    .earliest = SUSPECT_NONE,
	    .latest = SUSPECT_NONE};
	bool done = fill_moved(suspects, moved, together, study);
	if (moved->numbers.count == 0) { /* all of them lie outside */
		free(moved->numbers.list);
		suspects->moved_count--;
	}
	return done;
}

static bool
judge(struct suspects *suspects, const struct together *together, int feature,
    double lower, double upper)
{
	struct study *study = judgement_study(&(struct judgement_asked){
	    .series = {together->values, together->breaks, together->count},
	    .feature = feature,
	    .lower = lower,
	    .upper = upper,
	    .target = NAN,
	});
	bool done = study != NULL;

	if (study && study->stability.verdict == STABILITY_UNSTABLE)
		done = move_from_onset(suspects, together, study, feature);
	suspects->judged += study && study->stability.verdict <= STABILITY_UNSTABLE;
	study_free(study);
	return done;
}

static bool
judge_together(struct suspects *suspects, struct together *together)
{
	const struct suspect_asked *asked = suspects->asked;
	const struct ledger_shot *shot = &asked->shots[together->shots[0]];
	double lower, upper;
	bool done = true;

	if (together->count < STABILITY_LEAST) {
		suspects->too_few += together->count;
		return true;
	}
	for (int id = 0; id < FEATURE_COUNT && done; id++) {
		if (suspects->unmeasured[id] ||
		    !suspect_limits(asked, shot, id, &lower, &upper))
			continue;
		fill(together, asked, id, lower, upper);
		done = judge(suspects, together, id, lower, upper);
	}
	return done;
}

bool
suspect_stability_judge(struct suspects *suspects)
{
	const struct suspect_asked *asked = suspects->asked;
	size_t room = asked->count + 1;
	bool *taken = calloc(room, sizeof *taken);
	struct together together = {
	    .shots = calloc(room, sizeof *together.shots),
	    .values = calloc(room, sizeof *together.values),
	    .breaks = calloc(room, sizeof *together.breaks),
	};
	bool done = taken && together.shots && together.values && together.breaks;

	for (size_t i = asked->first; done && asked->count > 0 && i <= asked->last;
	     i++) {
		if (taken[i] || asked->shots[i].outcome != SHOT_COMPLETE)
			continue;
		gather(&together, asked, i, taken);
		done = judge_together(suspects, &together);
	}
	free(taken);
	free(together.shots);
	free(together.values);
	free(together.breaks);
	return done;
}
