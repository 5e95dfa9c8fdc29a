/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/tally.h"

#include <math.h>
#include <string.h>

#include "daemon/base/text.h"
#include "daemon/ledger/filed.h"

void
tally_init(struct tally *tally)
{
	memset(tally, 0, sizeof *tally);
	for (int id = 0; id < FEATURE_COUNT; id++)
		tally->features[id].largest = NAN;
}

static bool
take_feature(struct tally_feature *feature, const struct ledger_shot *was,
    const struct shot *is, int id)
{
	double before = was->value[id],
	       now = filed_number(feature_from_si(id, is->value[id]));

	if (filed_same(before, now) && was->absent[id] == is->absent[id])
		return false;
	feature->changed++;
	feature->came += isnan(before) && !isnan(now);
	feature->went += !isnan(before) && isnan(now);
	if (!isnan(before) && !isnan(now) &&
	    !(fabs(now - before) <= fabs(feature->largest))) {
		feature->largest = now - before;
		feature->largest_shot_no = was->shot_no;
		text_copy(feature->largest_line, LEDGER_NAME, was->line);
	}
	return true;
}

bool
tally_take(struct tally *tally, const struct ledger_shot *was, const struct shot *is)
{
	bool outcome = was->outcome != is->outcome;
	bool properties = strcmp(was->properties, is->properties) != 0;
	bool differs = outcome || properties || was->flags != is->flags ||
	               strcmp(was->reason, is->reason) != 0;

	tally->outcomes += outcome;
	tally->properties += properties;
	for (int id = 0; id < FEATURE_COUNT; id++)
		differs |= take_feature(&tally->features[id], was, is, id);
	return differs;
}

bool
tally_channel_differs(const struct settings *settings, const struct shot *is,
    const struct ledger_channel *was)
{
	for (size_t i = 0; i < is->channel_count; i++) {
		const struct shot_channel *now = &is->channels[i];
		const struct channel_settings *channel =
		    &settings->channels[now->channel];
		if (strcmp(channel->name, was->channel) != 0 ||
		    strcmp(settings->devices[channel->device].name, was->device) != 0)
			continue;
		bool (*same)(double, double) =
		    channel->dimension == DIMENSION_FLOW ? filed_same_flow : filed_same;
		return !same(now->min, was->min) || !same(now->mean, was->mean) ||
		       !same(now->max, was->max) || !same(now->sd, was->sd) ||
		       !same(now->last, was->last) ||
		       !same(now->coverage, was->coverage) ||
		       now->absent != was->absent;
	}
	return true;
}
