/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/suspect_stability.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/stats/study.h"

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

static bool
hold(struct suspects *suspects, const struct together *together, size_t k, int feature,
    enum onset_kind onset)
{
	const struct suspect_reason reason = {.kind = SUSPECT_UNSTABLE,
	    .shot = together->shots[k],
	    .feature = feature,
	    .onset = onset};

	return suspects_add(suspects, &reason);
}

/* What stands out by itself, and nothing lasts. */
static bool
hold_single(struct suspects *suspects, const struct together *together,
    const struct study *study, int feature)
{
	const struct interval *steady = &study->steady;
	bool done = true;

	for (size_t k = 0; k < together->count && done; k++)
		if (together->values[k] < steady->low ||
		    together->values[k] > steady->high)
			done = hold(suspects, together, k, feature, ONSET_SINGLE);
	return done;
}

/* A series that wanders has no beginning to hold from: that is told, and nothing is held. */
static bool
hold_from_onset(struct suspects *suspects, const struct together *together,
    const struct study *study, int feature)
{
	const struct onset *onset = &study->onset;
	bool done = true;

	suspects->wanders[feature] |= onset->kind == ONSET_NONE;
	if (onset->kind == ONSET_SINGLE)
		return hold_single(suspects, together, study, feature);
	if (onset->kind == ONSET_NONE || onset->least == 0)
		return true;
	for (size_t k = onset->least - 1; k < together->count && done; k++)
		done = hold(suspects, together, k, feature, onset->kind);
	return done;
}

static bool
judge(struct suspects *suspects, const struct together *together, int feature,
    double lower, double upper)
{
	struct study *study = study_new(&(struct study_asked){
	    .series = {together->values, together->breaks, together->count},
	    .lower = lower,
	    .upper = upper,
	    .target = NAN,
	    .method = STUDY_INDIVIDUALS,
	    .centre = NAN,
	    .sigma = NAN,
	    .required = NAN,
	});
	bool done = study != NULL;

	if (study && study->stability.verdict == STABILITY_UNSTABLE)
		done = hold_from_onset(suspects, together, study, feature);
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
