/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a cause that was named explains. */
#include "cli/findings/match.h"

#include <math.h>

enum { START_SLACK = 12, FOLLOW_SLACK = 40 };

/* Marks what moved when the cause began; what went the way that it foretells (`way`; 0:
 * it foretells none), or is of the subject itself (`own`), whenever that began. */
static void
explain(struct run *run, int signal, const struct match *match, bool own, int way)
{
	struct track *track = run->tracks + signal;
	size_t from = match->episode.first, to = match->episode.last;

	for (size_t i = 0; i < track->episode_count; i++) {
		struct episode *episode = track->episodes + i;
		bool free = own || (way != 0 && episode->way == way);
		size_t until = free ? to + START_SLACK : from + FOLLOW_SLACK;
		/* it came again: another time of the same */
		if (signal == match->key && episode->way == match->episode.way)
			until = to;
		if (episode->first <= until && (episode->first + START_SLACK >= from ||
						   (free && episode->last >= from)))
			episode->explained = true;
	}
}

/* What the subject's neighbours show of it: less of the same figure. */
static void
explain_family(struct run *run, int first_signal, int count, const struct match *match)
{
	size_t first = match->episode.first, last = match->episode.last;
	double subject = 0;

	if (match->position >= 0)
		subject = fabs(track_measure(
		    run->tracks + first_signal + match->position, first, last)
				   .off);
	for (int i = 0; i < count; i++) {
		int signal = first_signal + i;
		double off = track_measure(run->tracks + signal, first, last).off;
		double most = match->position < 0 ? MATCH_SURFACE_ALONE
		                                  : MATCH_OTHERS_SHARE * subject;
		if (!(fabs(off) > most))
			explain(run, signal, match, match->position >= 0, 0);
	}
}

static void
explain_group(struct run *run, const struct match *match)
{
	if (match->pattern->subject != PATTERN_CIRCUIT) {
		explain_family(run, SIGNAL_EXIT_OWN, SIGNAL_SURFACES, match);
		return;
	}
	for (int first = SIGNAL_TOOL_OWN; first < SIGNAL_COUNT;
	     first += SIGNAL_CIRCUITS)
		explain_family(run, first, SIGNAL_CIRCUITS, match);
}

void
match_explain(struct run *run, const struct match *match)
{
	for (int i = 0; i < PATTERN_SIGNS; i++) {
		const struct sign *sign = match->pattern->signs + i;
		if (sign->part == PART_NONE || sign->part == PART_WITHOUT ||
		    sign->part == PART_STILL || sign->part == PART_NOT)
			continue;
		if (match_is_group(sign->signal))
			explain_group(run, match);
		else
			explain(run, match_resolve(sign->signal, match->position),
			    match, signal_position(sign->signal) >= 0,
			    match->mirrored ? -sign->way : sign->way);
	}
	explain(run, match->key, match, true, 0);
}
