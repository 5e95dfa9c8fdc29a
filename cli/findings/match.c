/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/match.h"

#include <assert.h>
#include <math.h>

#include "daemon/base/text.h"

/* Standard deviations by which the key stands out: chance is out of the question; it is
 * not beyond doubt.  And of a sign that is seen, if not beyond doubt. */
#define SURE_SDS 8.0
#define DOUBTFUL_SDS 4.0
#define HINT_SDS 1.5

enum { LOT_SLACK = 3, ONSET_SLACK = 12 };

/* --- which signal a sign is about ----------------------------------------------- */

int
match_resolve(int signal, int position)
{
	int side = position / FEATURE_SURFACES_MAX;

	switch (signal) {
	case PATTERN_PAIR:
		return SIGNAL_EXIT_OWN +
		       (position + FEATURE_SURFACES_MAX) % SIGNAL_SURFACES;
	case PATTERN_RATE_HERE:
		return side == 0 ? SIGNAL_RATE_TOP : SIGNAL_RATE_BOTTOM;
	case PATTERN_RATE_THERE:
		return side == 0 ? SIGNAL_RATE_BOTTOM : SIGNAL_RATE_TOP;
	}
	return signal_position(signal) >= 0 ? signal + position : signal;
}

bool
match_is_group(int signal)
{
	return signal == PATTERN_OTHERS || signal == PATTERN_ANY;
}

static bool
state_is(enum track_state state, int way)
{
	return (state == TRACK_UP && way >= 0) || (state == TRACK_DOWN && way <= 0);
}

static bool
size_fits(const struct sign *sign, double off)
{
	return fabs(off) >= sign->beyond &&
	       (!(sign->within > 0) || fabs(off) <= sign->within);
}

/* --- signs ---------------------------------------------------------------------- */

/* The score of a sign; NAN: it speaks against the cause. */
static double
weigh_must(const struct sign *sign, const struct measure *measure, int way,
    struct match *match)
{
	if (measure->state == TRACK_ABSENT && sign->part == PART_MUST) {
		match->undecided = true;
		return -0.5;
	}
	if (measure->state == TRACK_UNCLEAR && sign->part == PART_MUST &&
	    way * measure->off > HINT_SDS * measure->sd) {
		match->undecided = true;
		return 0.5;
	}
	return state_is(measure->state, way) && size_fits(sign, measure->off) ? 1.5
	                                                                      : NAN;
}

/* In all of the episode's time, or as it began. */
static double
weigh_must_twice(const struct track *track, const struct sign *sign,
    const struct measure *measure, int way, struct match *match)
{
	double weight = weigh_must(sign, measure, way, match);

	if (!isnan(weight))
		return weight;
	struct measure onset =
	    track_measure_onset(track, match->episode.first, match->episode.last);
	if (fabs(onset.off) < sign->share * match->key_off &&
	    onset.state != TRACK_ABSENT)
		onset.state = TRACK_STILL;
	return weigh_must(sign, &onset, way, match);
}

static double
weigh_still(const struct sign *sign, const struct measure *measure, int way,
    struct match *match)
{
	if (measure->state == TRACK_ABSENT || measure->state == TRACK_UNCLEAR) {
		match->undecided |=
		    measure->state == TRACK_ABSENT || sign->part == PART_STILL;
		return measure->state == TRACK_ABSENT ? -0.5 : 0;
	}
	if (state_is(measure->state, way) && size_fits(sign, measure->off))
		return NAN;
	return sign->part == PART_STILL ? 1 : 0.5;
}

static double
weigh_confirm(const struct measure *measure, int way, struct match *match)
{
	if (state_is(measure->state, way)) {
		match->confirmed++;
		return 1;
	}
	return state_is(measure->state, -way)  ? -1.5
	       : measure->state == TRACK_STILL ? -0.25
	                                       : 0;
}

/* That none of the pyrometers stands out from its peers. */
static double
weigh_group(
    struct run *run, const struct sign *sign, int way, const struct match *match)
{
	for (int i = 0; sign->part == PART_NOT && i < SIGNAL_SURFACES; i++) {
		struct measure measure =
		    track_measure(run->tracks + SIGNAL_EXIT_OWN + i,
			match->episode.first, match->episode.last);
		if (state_is(measure.state, way) &&
		    fabs(measure.off) > MATCH_SURFACE_ALONE)
			return NAN;
	}
	return 0;
}

static double
weigh(struct run *run, const struct sign *sign, struct match *match)
{
	int way = match->mirrored ? -sign->way : sign->way;
	double share = sign->share * match->key_off;

	if (match_is_group(sign->signal))
		return weigh_group(run, sign, way, match);
	const struct track *track =
	    run->tracks + match_resolve(sign->signal, match->position);
	struct measure measure =
	    track_measure(track, match->episode.first, match->episode.last);
	if (fabs(measure.off) < share && measure.state != TRACK_ABSENT)
		measure.state = TRACK_STILL;
	switch (sign->part) {
	case PART_NONE:
	case PART_MAY:
		return 0;
	case PART_KEY:
		match->key_off = fabs(measure.off);
		match->key_sds = match->key_off / measure.sd;
		return weigh_must(sign, &measure, way, match);
	case PART_MUST:
		return weigh_must_twice(track, sign, &measure, way, match);
	case PART_STILL:
	case PART_NOT:
		return weigh_still(sign, &measure, way, match);
	case PART_CONFIRM:
		return weigh_confirm(&measure, way, match);
	case PART_WITHOUT:
		return track->known ? NAN : 0;
	}
	return 0;
}

/* --- lots ------------------------------------------------------------------------ */

/* Whether a lot's cause may begin at the episode; without entries it may, but is not
 * more than possible. */
static bool
lot_allows(const struct run *run, struct match *match)
{
	if (!run->lots) {
		match->undecided = true;
		return true;
	}
	for (size_t i = 0; i < run->lot_change_count; i++) {
		size_t at = run->lot_changes[i], first = match->episode.first;
		if (at > first + LOT_SLACK || first > at + LOT_SLACK)
			continue;
		match->episode.first = at;
		return true;
	}
	return false;
}

/* Whether another circuit's tool sensor has gone the same way so much further that this
 * one is but its neighbour. */
static bool
overshadowed(const struct run *run, int position, size_t first, size_t last)
{
	const struct track *tools = run->tracks + SIGNAL_TOOL_OWN;
	double own = track_measure(tools + position, first, last).off;

	for (int i = 0; i < SIGNAL_CIRCUITS; i++) {
		double other = track_measure(tools + i, first, last).off;
		if (other * own > 0 && fabs(own) < MATCH_OTHERS_SHARE * fabs(other))
			return true;
	}
	return false;
}

bool
match_try(struct run *run, const struct pattern *pattern, int key,
    const struct episode *episode, bool mirrored, struct match *match)
{
	const struct sign *sign = pattern->signs;

	while (sign->part == PART_WITHOUT)
		sign++;
	assert(sign->part == PART_KEY);
	*match = (struct match){.pattern = pattern,
	    .position = signal_position(key),
	    .mirrored = mirrored,
	    .key = key,
	    .episode = *episode};
	if ((signal_position(sign->signal) >= 0) != (match->position >= 0) ||
	    match_resolve(sign->signal, match->position) != key ||
	    episode->way != (mirrored ? -sign->way : sign->way))
		return false;
	if (pattern->lot && !lot_allows(run, match))
		return false;
	if (pattern->subject == PATTERN_CIRCUIT &&
	    overshadowed(run, match->position, episode->first, episode->last))
		return false;
	for (int i = 0; i < PATTERN_SIGNS; i++) {
		double weight = weigh(run, pattern->signs + i, match);
		if (isnan(weight))
			return false;
		match->score += weight;
	}
	return true;
}

void
match_add_evidence(struct run *run, int signal, size_t first, size_t last, bool moved,
    struct finding *finding)
{
	struct measure measure = track_measure(run->tracks + signal, first, last);
	const struct signal_row *row = signal_row(signal);
	int feature = signal_feature(signal), n = 0;
	double sum = 0;

	if (finding->evidence_count >= FINDING_EVIDENCE || !isfinite(measure.off) ||
	    (moved && measure.state != TRACK_UP && measure.state != TRACK_DOWN))
		return;
	for (int i = 0; i < finding->evidence_count; i++)
		if (finding->evidence[i].feature == feature)
			return;
	for (size_t i = measure.from; i <= measure.to; i++) {
		double value = run->shots[i]->value[feature];
		if (isfinite(value) && isfinite(run->tracks[signal].rest[i])) {
			sum += value;
			n++;
		}
	}
	if (n == 0)
		return;
	double scale = row->relative ? run->profile->middle[feature] : 1;
	finding->evidence[finding->evidence_count++] =
	    (struct finding_evidence){feature, sum / n - measure.off * scale, sum / n,
		measure.off / run->tracks[signal].sd, moved};
}

/* The first shot in which one of the signs of the subject itself shows. */
static size_t
earliest(struct run *run, const struct match *match)
{
	size_t first = match->episode.first;

	for (int i = 0; i < PATTERN_SIGNS; i++) {
		const struct sign *sign = match->pattern->signs + i;
		if ((sign->part != PART_MUST && sign->part != PART_CONFIRM) ||
		    match->pattern->lot || match_is_group(sign->signal) ||
		    signal_position(sign->signal) < 0)
			continue;
		struct track *track =
		    run->tracks + match_resolve(sign->signal, match->position);
		int way = match->mirrored ? -sign->way : sign->way;
		for (size_t k = 0; k < track->episode_count; k++) {
			const struct episode *episode = track->episodes + k;
			if (episode->way == way && episode->first < first &&
			    episode->last >= match->episode.first)
				first = episode->first;
		}
	}
	return first;
}

static enum finding_sure
how_sure(const struct match *match)
{
	bool can_confirm = false;
	enum finding_sure sure = FINDING_LIKELY;

	for (int i = 0; i < PATTERN_SIGNS; i++)
		can_confirm |= match->pattern->signs[i].part == PART_CONFIRM;
	if (match->undecided || match->key_sds < DOUBTFUL_SDS)
		sure = FINDING_POSSIBLE;
	else if (match->key_sds >= SURE_SDS && (match->confirmed > 0 || !can_confirm))
		sure = FINDING_SURE;
	return sure < match->pattern->most ? sure : match->pattern->most;
}

/* The signs that show it, each from where it was before. */
static void
find_onset(struct run *run, const struct match *match, struct onset *onset)
{
	*onset = (struct onset){0};
	for (int i = 0; i < PATTERN_SIGNS; i++) {
		const struct sign *sign = match->pattern->signs + i;
		int way = match->mirrored ? -sign->way : sign->way;
		if ((sign->part != PART_KEY && sign->part != PART_MUST &&
			sign->part != PART_CONFIRM) ||
		    match_is_group(sign->signal) || way == 0)
			continue;
		struct track *track =
		    run->tracks + match_resolve(sign->signal, match->position);
		struct measure measure =
		    track_measure(track, match->episode.first, match->episode.last);
		if (!state_is(measure.state, way))
			continue;
		const struct episode *episode =
		    sign->part == PART_KEY
			? &match->episode
			: track_episode_near(track, match->episode.first, ONSET_SLACK);
		onset->signals[onset->count++] =
		    (struct onset_signal){track, way, episode ? episode->base : 0};
	}
}

/* The lots on both sides of the change that it came with. */
static void
name_lots(const struct run *run, const struct match *match, struct finding *finding)
{
	size_t at = match->episode.first;

	if (!match->pattern->lot || !run->lots)
		return;
	text_copy(finding->lot, sizeof(finding->lot), run->shots[at]->lot);
	text_copy(finding->lot_before, sizeof(finding->lot_before), run->profile->lot);
	for (size_t i = 0; i < at; i++)
		if (run->shots[i]->lot && *run->shots[i]->lot)
			text_copy(finding->lot_before, sizeof(finding->lot_before),
			    run->shots[i]->lot);
}

struct span
match_tell(struct run *run, const struct match *match, struct finding *finding)
{
	const struct pattern *pattern = match->pattern;
	bool surface = pattern->subject == PATTERN_SURFACE;
	static const enum part order[] = {
	    PART_KEY, PART_MUST, PART_CONFIRM, PART_STILL, PART_NOT};

	*finding = (struct finding){.cause = pattern->cause,
	    .sure = how_sure(match),
	    .side = -1,
	    .up = !match->mirrored,
	    .feature = signal_feature(match->key)};
	if (match->position >= 0)
		finding->position = match->position % (surface ? FEATURE_SURFACES_MAX
							       : SIGNAL_CIRCUITS) +
		                    1;
	if (surface)
		finding->side = match->position / FEATURE_SURFACES_MAX;
	else if (pattern->subject == PATTERN_TOP || pattern->subject == PATTERN_BOTTOM)
		finding->side = pattern->subject == PATTERN_BOTTOM;
	name_lots(run, match, finding);
	for (size_t k = 0; k < sizeof(order) / sizeof(order[0]); k++)
		for (int i = 0; i < PATTERN_SIGNS; i++) {
			const struct sign *sign = pattern->signs + i;
			if (sign->part == order[k] && !match_is_group(sign->signal))
				match_add_evidence(run,
				    match_resolve(sign->signal, match->position),
				    match->episode.first, match->episode.last,
				    sign->part != PART_STILL && sign->part != PART_NOT,
				    finding);
		}
	if (finding->evidence_count > 0)
		finding->feature = finding->evidence[0].feature;
	struct episode whole = match->episode;
	struct onset onset;
	whole.first = earliest(run, match);
	find_onset(run, match, &onset);
	return match_set_times(run, &whole, &onset, finding);
}
