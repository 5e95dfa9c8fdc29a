/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether the machine was set as it was when the reference run was made. */
#include "cli/command/compare_kind.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"

/* What a register of a set point resolves is coarser. */
#define SAME_RATIO 1e-9

void
compare_set_points_add(
    struct compare_set_points *set_points, const struct ledger_shot *shot)
{
	if (shot->set_points == 0)
		return;
	set_points->shot = shot->id;
	for (size_t i = 0; i < set_points->count; i++)
		if (set_points->hashes[i] == shot->set_points)
			return;
	if (set_points->count == COMPARE_HASHES)
		set_points->more = true;
	else
		set_points->hashes[set_points->count++] = shot->set_points;
}

/* --- those of the reference's shots, as far as they are on file ------------------------------ */

struct then {
	const struct kind *kind;
	struct compare_set_points set_points;
	size_t shots;
};

static int
take_then(void *arg, const struct ledger_shot *shot)
{
	struct then *then = arg;
	const struct kind own = kind_of(shot);

	if (shot->outcome != SHOT_COMPLETE || !kind_same(&own, then->kind))
		return 0;
	then->shots++;
	compare_set_points_add(&then->set_points, shot);
	return 0;
}

static int
read_then(struct then *then, const struct compare_kind *kind,
    const struct compare_kind_asked *asked, struct error *error)
{
	static const int none = 0;
	const struct ledger_filter filter = {.line = kind->kind.line,
	    .from = kind->reference.from,
	    .to = {kind->reference.to.ns + 1},
	    .by_time = true,
	    .features = &none};

	return ledger_read_shots(
	    asked->session->ledger, &filter, false, take_then, then, error);
}

static bool
is_same(const struct compare_set_points *a, const struct compare_set_points *b)
{
	for (size_t i = 0; i < a->count; i++) {
		size_t k = 0;
		while (k < b->count && b->hashes[k] != a->hashes[i])
			k++;
		if (k == b->count)
			return false;
	}
	return a->count == b->count;
}

/* --- by channel ---------------------------------------------------------------------------------- */

struct channels {
	struct compare_kind *kind;
	const struct settings *settings;
	bool now; /* else those of then are read */
	bool failed;
};

static struct report_compare_set_point *
find(struct compare_kind *kind, const char *name)
{
	for (size_t i = 0; i < kind->set_point_count; i++)
		if (strcmp(kind->set_point_list[i].channel, name) == 0)
			return &kind->set_point_list[i];
	struct report_compare_set_point *list =
	    reallocarray(kind->set_point_list, kind->set_point_count + 1, sizeof *list);
	if (!list)
		return NULL;
	kind->set_point_list = list;
	struct report_compare_set_point *one = &list[kind->set_point_count++];
	*one = (struct report_compare_set_point){
	    .then = NAN, .now = NAN, .dimension = DIMENSION_NONE};
	snprintf(one->channel, sizeof one->channel, "%s", name);
	return one;
}

static int
take_channel(void *arg, const struct ledger_channel *channel)
{
	struct channels *channels = arg;
	char name[REPORT_COMPARE_NAME];

	if (strcmp(channel->role, role_text(ROLE_SET_POINT)) != 0)
		return 0;
	snprintf(name, sizeof name, "%.60s.%.60s", channel->device, channel->channel);
	struct report_compare_set_point *one = find(channels->kind, name);
	channels->failed = !one;
	if (!one)
		return 1;
	if (channels->now)
		one->now = channel->last;
	else
		one->then = channel->last;
	int64_t index = calibrate_find(channels->settings, name);
	if (index >= 0)
		one->dimension = channels->settings->channels[index].dimension;
	return 0;
}

/* Those that differ stay in the list. */
static void
keep_differing(struct compare_kind *kind)
{
	size_t kept = 0;

	for (size_t i = 0; i < kind->set_point_count; i++) {
		const struct report_compare_set_point one = kind->set_point_list[i];
		double size = fmax(fabs(one.then), fabs(one.now));
		bool both = isfinite(one.then) && isfinite(one.now);
		if (both ? fabs(one.now - one.then) <= SAME_RATIO * size
			 : isnan(one.then) && isnan(one.now))
			continue;
		kind->set_point_list[kept++] = one;
	}
	kind->set_point_count = kept;
}

static int
compare_channels(struct compare_kind *kind, const struct compare_kind_asked *asked,
    int64_t then, struct error *error)
{
	struct ledger_read *ledger = asked->session->ledger;
	struct channels channels = {.kind = kind, .settings = asked->session->settings};
	int code = ledger_read_channels(ledger, then, take_channel, &channels, error);

	channels.now = true;
	if (code == 0 && !channels.failed)
		code = ledger_read_channels(
		    ledger, kind->set_points.shot, take_channel, &channels, error);
	if (code == 0 && channels.failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	keep_differing(kind);
	return code;
}

/* --- all --------------------------------------------------------------------------------------------- */

int
compare_set_points_judge(struct compare_kind *kind,
    const struct compare_kind_asked *asked, struct error *error)
{
	struct then then = {.kind = &kind->kind};
	char *words = kind->set_point_words;
	const size_t room = sizeof kind->set_point_words;
	int code = read_then(&then, kind, asked, error);

	if (code != 0)
		return code;
	if (then.set_points.count == 0 && kind->set_points.count == 0)
		return 0; /* the line reads none */
	if (then.shots == 0)
		snprintf(words, room,
		    "whether the recipe's set points are those of then cannot be told: "
		    "the shots that the reference run is copied from are not on file "
		    "any more");
	else if (then.set_points.count == 0)
		snprintf(words, room,
		    "whether the recipe's set points are those of then cannot be told: "
		    "none were read then");
	else if (kind->set_points.count == 0)
		snprintf(words, room,
		    "whether the recipe's set points are those of then cannot be told: "
		    "none are read now");
	else if (!then.set_points.more && !kind->set_points.more &&
		 is_same(&then.set_points, &kind->set_points))
		return 0;
	else {
		snprintf(words, room,
		    "the recipe's set points are not those of then: what is different "
		    "may be meant so");
		code = compare_channels(kind, asked, then.set_points.shot, error);
	}
	return code;
}
