/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot made again from its trace. */
#include "daemon/shot/trace.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/scan.h"
#include "daemon/shot/pack.h"
#include "daemon/shot/record.h"

struct rebuild {
	const struct settings *wanted;
	uint32_t line;
	struct history *history;
	struct error *error;
};

static int
take_again(void *arg, const struct scan *scan)
{
	struct rebuild *rebuild = arg;

	if (rebuild->wanted->devices[scan->device].line != rebuild->line)
		return error_set(rebuild->error, ERROR_INVALID,
		    "the trace is of another line than '%s'",
		    rebuild->wanted->lines[rebuild->line].name);
	history_take(rebuild->history, scan);
	return 0;
}

/* How often each wanted channel was polled as the readings were taken.  The caller frees; NULL
 * when memory is short. */
static double *
paces_of(const struct settings *made, const struct settings *wanted)
{
	double *period_s = calloc(wanted->channel_count + 1, sizeof(*period_s));

	for (size_t i = 0; period_s != NULL && i < wanted->channel_count; i++) {
		int64_t source = pack_source(made, wanted, (uint32_t)i);

		period_s[i] = source < 0 ? wanted->channels[i].period_s
		                         : made->channels[source].period_s;
	}
	return period_s;
}

static int
check_ovens(
    const struct sheet *sheet, const struct line_settings *line, struct error *error)
{
	for (int i = 0; i < sheet->stay_count; i++)
		if (sheet->stays[i].oven >= line->oven_count)
			return error_set(error, ERROR_INVALID,
			    "the sheet was in an oven that line '%s' has not",
			    line->name);
	return 0;
}

/* Whether what a channel's registers show means the same. */
static bool
is_same_reading(const struct settings *made, const struct channel_settings *a,
    const struct settings *wanted, const struct channel_settings *b)
{
	if (strcmp(made->devices[a->device].name, wanted->devices[b->device].name) !=
		0 ||
	    a->table != b->table || a->address != b->address ||
	    a->encoding != b->encoding || a->order != b->order || a->bit != b->bit ||
	    a->inverted != b->inverted || a->scale != b->scale ||
	    a->offset != b->offset || a->unit != b->unit || a->min_si != b->min_si ||
	    a->max_si != b->max_si || a->sentinel_count != b->sentinel_count)
		return false;
	for (int i = 0; i < a->sentinel_count; i++)
		if (a->sentinels[i] != b->sentinels[i])
			return false;
	return true;
}

/* And whether the same bit says when it is broken.  What stood still too long was marked as it
 * came and stays so: that another time is wanted now (frozen_after_s) changes no mean. */
static bool
is_same_measure(const struct settings *made, uint32_t was,
    const struct settings *wanted, uint32_t now)
{
	int32_t bit_was = made->channels[was].fault_channel;
	int32_t bit_now = wanted->channels[now].fault_channel;

	if (!is_same_reading(
		made, &made->channels[was], wanted, &wanted->channels[now]))
		return false;
	if (bit_was < 0 || bit_now < 0)
		return bit_was < 0 && bit_now < 0;
	return is_same_reading(
	    made, &made->channels[bit_was], wanted, &wanted->channels[bit_now]);
}

/* -1 where the line has no side of that name. */
static int
find_side(const struct line_settings *line, const char *side)
{
	for (int i = 0; i < line->side_count; i++)
		if (strcmp(line->sides[i], side) == 0)
			return i;
	return -1;
}

/* Forgets what the trace knows of the shot before, the mean of its tool, where the tool's
 * channels no longer mean what it was made of: it is of another scale than the new mean. */
static int
check_last_tool(struct sheet *sheet, const struct settings *made,
    const struct feature_source *source, int side, struct error *error)
{
	int line = settings_find_line(made, source->line->name);
	int was_side =
	    line < 0 ? -1 : find_side(&made->lines[line], source->line->sides[side]);
	struct roles was;
	bool same;

	if (was_side < 0) {
		sheet->last_tool_mean_c = NAN;
		return 0;
	}
	if (roles_init(&was, made, (uint32_t)line, was_side) != 0)
		return error_set(error, ERROR_MEMORY, "out of memory");
	same = was.tool_count == source->roles->tool_count;
	for (int i = 0; same && i < was.tool_count; i++)
		same = is_same_measure(
		    made, was.tool[i], source->settings, source->roles->tool[i]);
	if (!same)
		sheet->last_tool_mean_c = NAN;
	roles_release(&was);
	return 0;
}

int
trace_recompute(const struct trace_kept *kept, const struct settings *wanted,
    const struct circumstances *circumstances, struct shot *shot, struct error *error)
{
	struct rebuild rebuild = {.wanted = wanted, .line = shot->line, .error = error};
	struct pack_reader reader = {kept->made, wanted, take_again, &rebuild};
	struct sheet sheet = {0};
	struct roles roles;
	struct feature_source source = {.settings = wanted,
	    .line = &wanted->lines[shot->line],
	    .roles = &roles,
	    .sheet = &sheet,
	    .circumstances = circumstances};
	int side = shot->side < 0 ? 0 : shot->side;
	double *period_s;
	int rc = trace_sheet(kept->bytes, kept->byte_count, &sheet, error);

	if (rc == 0)
		rc = check_ovens(&sheet, source.line, error);
	if (rc != 0)
		return rc;
	if (roles_init(&roles, wanted, shot->line, side) != 0)
		return error_set(error, ERROR_MEMORY, "out of memory");
	rc = check_last_tool(&sheet, kept->made, &source, side, error);
	rebuild.history = history_new(wanted, shot->line);
	period_s = paces_of(kept->made, wanted);
	if (rc == 0)
		rc = rebuild.history != NULL && period_s != NULL
		         ? trace_scans(kept->bytes, kept->byte_count, &reader, error)
		         : error_set(error, ERROR_MEMORY, "out of memory");
	if (rc == 0) {
		source.history = rebuild.history;
		history_paced(rebuild.history, period_s);
		history_correct(rebuild.history, circumstances->correction);
		record_make(&source, shot);
	}
	history_free(rebuild.history);
	free(period_s);
	roles_release(&roles);
	return rc;
}
