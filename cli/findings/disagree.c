/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What moved and no cause explains. */
#include "cli/findings/match.h"
#include "cli/findings/gathered.h"

#include <math.h>
#include <stdlib.h>

enum { TOGETHER = 12 };

struct loose {
	struct episode *episode;
	int signal;
	double far; /* standard deviations */
	size_t order;
};

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

/* The furthest first. */
static int
compare(const void *a, const void *b)
{
	const struct loose *x = a, *y = b;

	if (x->far > y->far || x->far < y->far)
		return x->far > y->far ? -1 : 1;
	return (x->order > y->order) - (x->order < y->order);
}

/* What is not explained, and stands out. */
static size_t
find_loose(struct run *run, struct loose *list)
{
	size_t n = 0;

	for (int signal = 0; signal < SIGNAL_COUNT; signal++)
		for (size_t i = 0; i < run->tracks[signal].episode_count; i++) {
			struct episode *episode = run->tracks[signal].episodes + i;
			if (episode->explained || signal_row(signal)->derived)
				continue;
			struct measure measure = track_measure(
			    run->tracks + signal, episode->first, episode->last);
			if (measure.state != TRACK_UP && measure.state != TRACK_DOWN)
				continue;
			list[n] = (struct loose){
			    episode, signal, fabs(measure.off) / measure.sd, n};
			n++;
		}
	return n;
}

/* One finding for all that moved about then and belongs together. */
static struct span
tell_disagreement(struct run *run, const struct loose *loose, struct finding *finding)
{
	struct episode *episode = loose->episode;
	double far = loose->far;
	int signal = loose->signal;
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
		for (size_t i = 0; i < run->tracks[other].episode_count; i++) {
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
	const struct onset onset = {
	    1, {{run->tracks + signal, episode->way, episode->base}}};
	return match_set_times(run, episode, &onset, finding);
}

bool
disagree_tell(struct run *run, struct gathered *told)
{
	size_t count = 0;
	bool done = true;

	for (int signal = 0; signal < SIGNAL_COUNT; signal++)
		count += run->tracks[signal].episode_count;
	struct loose *list = calloc(count + 1, sizeof(*list));
	if (!list)
		return false;
	count = find_loose(run, list);
	qsort(list, count, sizeof(*list), compare);
	for (size_t i = 0; done && i < count; i++) {
		struct finding finding;
		if (list[i].episode->explained)
			continue;
		struct span span = tell_disagreement(run, &list[i], &finding);
		done = gathered_add(told, &finding, span);
	}
	free(list);
	return done;
}
