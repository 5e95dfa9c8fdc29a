/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/suspect.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/population/judgement.h"
#include "cli/population/suspect_stability.h"

const char *
suspect_kind_text(enum suspect_kind kind)
{
	switch (kind) {
	case SUSPECT_OUTSIDE:
		return "outside_limit";
	case SUSPECT_ABSENT:
		return "unknown_value";
	case SUSPECT_OUTCOME:
		return "outcome";
	case SUSPECT_GAP:
		return "gap";
	case SUSPECT_UNSTABLE:
		return "unstable";
	case SUSPECT_TOLD:
		return "finding";
	case SUSPECT_NO_RECORD:
		return "no_record";
	case SUSPECT_UNLOGGED:
		return "not_logged";
	case SUSPECT_KIND_COUNT:
		break;
	}
	return "";
}

bool
suspects_add(struct suspects *suspects, const struct suspect_reason *reason)
{
	if (suspects->reason_count == suspects->reason_room) {
		size_t room = suspects->reason_room ? 2 * suspects->reason_room : 64;
		struct suspect_reason *reasons =
		    reallocarray(suspects->reasons, room, sizeof *reasons);
		if (!reasons)
			return false;
		suspects->reasons = reasons;
		suspects->reason_room = room;
	}
	suspects->reasons[suspects->reason_count++] = *reason;
	if (reason->kind != SUSPECT_NO_RECORD && reason->kind != SUSPECT_UNLOGGED)
		suspects->state[reason->shot] = SUSPECT_HELD;
	return true;
}

void
suspects_release(struct suspects *suspects)
{
	for (size_t i = 0; i < suspects->moved_count; i++)
		free(suspects->moved[i].numbers.list);
	free(suspects->moved);
	free(suspects->has_moved);
	free(suspects->state);
	free(suspects->reasons);
	*suspects = (struct suspects){0};
}

/* --- limits -------------------------------------------------------------------------------- */

bool
suspect_limits(const struct suspect_asked *asked, const struct ledger_shot *shot,
    int feature, double *lower, double *upper)
{
	*lower = asked->lower;
	*upper = asked->upper;
	if (asked->feature >= 0 && feature != asked->feature)
		return false;
	if (isfinite(*lower) || isfinite(*upper))
		return true;
	const struct limit_settings *limit = settings_limit(
	    asked->settings, feature, population_recipe(shot->recipe), shot->tool);
	judgement_limits(limit, feature, lower, upper);
	return limit != NULL;
}

/* --- one shot ------------------------------------------------------------------------------ */

/* What its outcome alone says. */
static enum suspect_state
state_of_outcome(enum shot_outcome outcome)
{
	switch (outcome) {
	case SHOT_EMPTY:
	case SHOT_SCRAPPED:
	case SHOT_ABORTED:
		return SUSPECT_NO_PART;
	case SHOT_PARTIAL:
	case SHOT_INTERRUPTED:
	case SHOT_REHEATED:
	case SHOT_TIMER_RELEASE:
		return SUSPECT_HELD;
	case SHOT_STARTUP:
		return SUSPECT_NEITHER;
	case SHOT_COMPLETE:
	case SHOT_OUTCOME_COUNT:
		break;
	}
	return SUSPECT_GOOD;
}

static bool
is_asked_about(const struct suspect_asked *asked, size_t i)
{
	return i >= asked->first && i <= asked->last;
}

/* Whether a limit lets it through: 1 known to be within, 0 there is no such value, -1 not. */
static int
judge_value(struct suspects *suspects, size_t i, int feature, bool *done)
{
	const struct suspect_asked *asked = suspects->asked;
	const struct ledger_shot *shot = &asked->shots[i];
	double value = shot->value[feature], lower, upper;
	struct suspect_reason reason = {.shot = i, .feature = feature};

	if (!suspect_limits(asked, shot, feature, &lower, &upper) ||
	    suspects->unmeasured[feature])
		return 0;
	if (value < lower || value > upper) {
		reason.kind = SUSPECT_OUTSIDE;
		reason.side = value < lower ? -1 : 1;
	} else if (isfinite(value)) {
		return 1;
	} else if (shot->absent[feature] == ABSENT_NOT_APPLICABLE) {
		return 0;
	} else {
		reason.kind = SUSPECT_ABSENT;
		reason.absent = (enum absent)shot->absent[feature];
	}
	*done &= suspects_add(suspects, &reason);
	return -1;
}

static bool
judge_values(struct suspects *suspects, size_t i)
{
	bool done = true;
	int known = 0;

	for (int id = 0; id < FEATURE_COUNT; id++)
		known += judge_value(suspects, i, id, &done) > 0;
	if (known == 0 && suspects->state[i] == SUSPECT_GOOD) {
		suspects->state[i] = SUSPECT_NEITHER;
		suspects->without_limits +=
		    i >= suspects->asked->first && i <= suspects->asked->last;
	}
	return done;
}

static bool
judge_shot(struct suspects *suspects, size_t i)
{
	const struct ledger_shot *shot = &suspects->asked->shots[i];
	enum suspect_state state = state_of_outcome(shot->outcome);
	struct suspect_reason reason = {
	    .kind = SUSPECT_OUTCOME, .shot = i, .feature = -1};
	bool done = true;

	suspects->state[i] = (unsigned char)state;
	if (state == SUSPECT_NO_PART)
		return true;
	if (state == SUSPECT_HELD)
		done = suspects_add(suspects, &reason);
	reason.kind = SUSPECT_GAP;
	if (done && (shot->flags & SHOT_FLAG_GAP) && shot->outcome != SHOT_PARTIAL)
		done = suspects_add(suspects, &reason);
	/* of a partial one nearly all is absent: that is told once */
	if (done && shot->outcome != SHOT_PARTIAL)
		done = judge_values(suspects, i);
	suspects->startup += suspects->state[i] == SUSPECT_NEITHER &&
	                     shot->outcome == SHOT_STARTUP &&
	                     is_asked_about(suspects->asked, i);
	return done;
}

/* A feature that has limits and that no shot has a value of, nor a reason other than that
 * there are no such channels. */
static void
find_unmeasured(struct suspects *suspects)
{
	const struct suspect_asked *asked = suspects->asked;
	double lower, upper;

	for (int id = 0; id < FEATURE_COUNT; id++) {
		bool limited = false, measured = false;
		for (size_t i = 0; i < asked->count && !measured; i++) {
			const struct ledger_shot *shot = &asked->shots[i];
			limited |= suspect_limits(asked, shot, id, &lower, &upper);
			measured = isfinite(shot->value[id]) ||
			           shot->absent[id] != ABSENT_NOT_CONFIGURED;
		}
		suspects->unmeasured[id] = limited && !measured;
	}
}

bool
suspects_judge(struct suspects *suspects, const struct suspect_asked *asked)
{
	bool done = true;

	*suspects = (struct suspects){.asked = asked};
	suspects->state = calloc(asked->count + 1, 1);
	suspects->has_moved = calloc(asked->count + 1, sizeof *suspects->has_moved);
	if (!suspects->state || !suspects->has_moved)
		return false;
	find_unmeasured(suspects);
	for (size_t i = 0; i < asked->count && done; i++)
		done = judge_shot(suspects, i);
	return done && suspect_stability_judge(suspects);
}

size_t
suspects_moved_parts(const struct suspects *suspects)
{
	size_t parts = 0;

	for (size_t i = 0; i < suspects->asked->count; i++)
		parts += suspects->has_moved[i] && suspects->state[i] != SUSPECT_HELD;
	return parts;
}

/* --- numbers without a record ---------------------------------------------------------------- */

bool
suspects_add_lacking(struct suspects *suspects, const struct lacking *lacking)
{
	const struct suspect_asked *asked = suspects->asked;
	size_t at = 0;

	for (size_t i = 0; i < lacking->run_count; i++) {
		const struct lacking_run *run = &lacking->runs[i];
		if (run->renumbered)
			continue;
		while (at < asked->count && asked->shots[at].shot_no <= run->last)
			at++;
		const struct suspect_reason reason = {.kind = SUSPECT_NO_RECORD,
		    .shot = at,
		    .feature = -1,
		    .first = run->first,
		    .last = run->last};
		if (at > 0 && at < asked->count && !suspects_add(suspects, &reason))
			return false;
	}
	return true;
}
