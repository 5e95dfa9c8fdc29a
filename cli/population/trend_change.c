/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/trend_change.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/population/sensors.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

const char *
trend_change_text(enum trend_change_kind kind)
{
	switch (kind) {
	case TREND_LOT:
		return "lot";
	case TREND_TOOL:
		return "tool";
	case TREND_CALIBRATION:
		return "calibration";
	}
	return "";
}

struct finding_changes {
	struct trend_changes *changes;
	const struct trend_change_asked *asked;
	const struct trend_kind *kind;
	bool failed;
};

static void
add(struct finding_changes *finding, const struct trend_change *change)
{
	struct trend_changes *changes = finding->changes;
	struct trend_change *list =
	    reallocarray(changes->list, changes->count + 1, sizeof *list);

	if (!list) {
		finding->failed = true;
		return;
	}
	changes->list = list;
	list[changes->count++] = *change;
}

static void
find_lots(struct finding_changes *finding)
{
	const struct trend_shift *points = finding->kind->points;

	for (size_t i = 1; i < finding->kind->count; i++) {
		const struct population *shots = &points[i].shots;
		if (strcmp(shots->lot, points[i - 1].shots.lot) == 0)
			continue;
		struct trend_change change = {
		    .before = i, .kind = TREND_LOT, .at = shots->first, .channel = -1};
		text_copy(change.name, sizeof change.name, shots->lot);
		add(finding, &change);
	}
}

/* The newest point of another tool between two points. */
static const struct trend_shift *
between(const struct finding_changes *finding, struct wall after, struct wall until,
    const char **tool)
{
	const struct trend *trend = finding->asked->trend;
	const struct trend_shift *newest = NULL;

	for (size_t k = 0; k < trend->count; k++) {
		const struct trend_kind *kind = &trend->kinds[k];
		if (strcmp(kind->tool, finding->kind->tool) == 0)
			continue;
		for (size_t i = 0; i < kind->count; i++) {
			const struct trend_shift *point = &kind->points[i];
			if (point->shots.first.ns <= after.ns ||
			    point->shots.first.ns >= until.ns ||
			    (newest && newest->shots.first.ns > point->shots.first.ns))
				continue;
			newest = point;
			*tool = kind->tool;
		}
	}
	return newest;
}

static void
find_tools(struct finding_changes *finding)
{
	const struct trend_shift *points = finding->kind->points;

	for (size_t i = 1; i < finding->kind->count; i++) {
		const char *tool = "";
		struct wall at = points[i].shots.first;
		if (!between(finding, points[i - 1].shots.last, at, &tool))
			continue;
		struct trend_change change = {
		    .before = i, .kind = TREND_TOOL, .at = at, .channel = -1};
		text_copy(change.name, sizeof change.name, tool);
		add(finding, &change);
	}
}

static int64_t
find_channel(const struct settings *settings, const struct ledger_calibration *row)
{
	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];
		const struct device_settings *device =
		    &settings->devices[channel->device];
		if (strcmp(channel->name, row->channel) == 0 &&
		    strcmp(device->name, row->device) == 0 &&
		    strcmp(settings->lines[device->line].name, row->line) == 0)
			return (int64_t)i;
	}
	return -1;
}

/* Before the first point that begins behind it; not before the very first. */
static int
take_calibration(void *arg, const struct ledger_calibration *row)
{
	struct finding_changes *finding = arg;
	const struct trend_kind *kind = finding->kind;
	size_t before = 0;

	while (before < kind->count && kind->points[before].shots.first.ns < row->at.ns)
		before++;
	if (before == 0 || before == kind->count)
		return 0;
	struct trend_change change = {.before = before,
	    .kind = TREND_CALIBRATION,
	    .at = row->at,
	    .channel = find_channel(finding->asked->settings, row)};
	snprintf(
	    change.name, sizeof change.name, "%.60s.%.60s", row->device, row->channel);
	add(finding, &change);
	return finding->failed;
}

static int
compare(const void *a, const void *b)
{
	const struct trend_change *x = a, *y = b;

	if (x->before != y->before)
		return x->before > y->before ? 1 : -1;
	return (x->at.ns > y->at.ns) - (x->at.ns < y->at.ns);
}

int
trend_changes_find(struct trend_changes *changes,
    const struct trend_change_asked *asked, struct error *error)
{
	struct finding_changes finding = {
	    .changes = changes, .asked = asked, .kind = asked->kind};
	int code = 0;

	*changes = (struct trend_changes){0};
	find_lots(&finding);
	find_tools(&finding);
	if (asked->ledger && !finding.failed)
		code = ledger_read_calibrations(
		    asked->ledger, asked->line, take_calibration, &finding, error);
	if (code == 0 && finding.failed)
		return error_set(error, ERROR_MEMORY, "out of memory");
	if (changes->count > 1)
		qsort(changes->list, changes->count, sizeof *changes->list, compare);
	return code;
}

void
trend_changes_release(struct trend_changes *changes)
{
	free(changes->list);
	*changes = (struct trend_changes){0};
}

bool
trend_change_concerns(
    const struct trend_change *change, const struct settings *settings, int feature)
{
	if (change->kind != TREND_CALIBRATION)
		return true;
	return change->channel >= 0 &&
	       sensors_rest_on(feature, &settings->channels[change->channel]);
}
