/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a finding is about, and the channel that it is read by. */
#include "cli/command/found.h"

#include <string.h>

static const char *
side_text(const struct finding *finding)
{
	return finding->side == 0 ? "top " : finding->side == 1 ? "bottom " : "";
}

static const char *
kind_of_subject(enum finding_cause cause)
{
	switch (cause) {
	case FINDING_DEAD_ZONE:
	case FINDING_WINDOW:
		return "pyrometer";
	case FINDING_BLOCKED_CIRCUIT:
	case FINDING_CLOSED_CIRCUIT:
	case FINDING_SCALED_CIRCUIT:
		return "water circuit";
	case FINDING_CONTACT:
	case FINDING_TOOL_SENSOR:
		return "tool sensor";
	case FINDING_DISAGREES:
	case FINDING_EMISSIVITY:
	case FINDING_ELEMENTS:
	case FINDING_LOT_FLOW:
	case FINDING_LOT_THICKNESS:
	case FINDING_LOT:
	case FINDING_COLD_STACK:
	case FINDING_MAINS:
	case FINDING_DRAUGHT:
	case FINDING_SUPPLY_FLOW:
	case FINDING_SUPPLY_TEMPERATURE:
	case FINDING_CAUSE_COUNT:
		break;
	}
	return NULL;
}

/* Of what is there once a side of the machine. */
static bool
is_of_a_side(const struct finding *finding)
{
	enum finding_cause cause = finding->cause;

	return (cause >= FINDING_BLOCKED_CIRCUIT && cause < FINDING_CAUSE_COUNT) ||
	       (cause == FINDING_DISAGREES && finding->side < 0 &&
		   finding->position > 0);
}

void
found_subject(const struct finding *finding, const char *machine_side, char *words)
{
	const char *what = kind_of_subject(finding->cause);
	size_t used;

	words[0] = '\0';
	if (finding->cause == FINDING_DISAGREES)
		snprintf(
		    words, FOUND_SUBJECT, "%s", feature_get(finding->feature)->name);
	else if (finding->cause == FINDING_EMISSIVITY)
		snprintf(words, FOUND_SUBJECT, "%spyrometers",
		    finding->side >= 0 ? side_text(finding) : "all ");
	else if (what && finding->position > 0)
		snprintf(words, FOUND_SUBJECT, "%s%s %d", side_text(finding), what,
		    finding->position);
	used = strlen(words);
	if (*machine_side && is_of_a_side(finding))
		snprintf(words + used, FOUND_SUBJECT - used, "%sside %s",
		    used ? " of " : "", machine_side);
}

/* The role that the figure comes from; ROLE_COUNT: none alone. */
static enum role
role_of(const struct finding *finding)
{
	int first;

	switch (finding->cause) {
	case FINDING_DEAD_ZONE:
	case FINDING_WINDOW:
		return finding->side == 1 ? ROLE_SURFACE_BOTTOM : ROLE_SURFACE_TOP;
	case FINDING_BLOCKED_CIRCUIT:
	case FINDING_CLOSED_CIRCUIT:
	case FINDING_SCALED_CIRCUIT:
		return ROLE_WATER_FLOW;
	case FINDING_CONTACT:
	case FINDING_TOOL_SENSOR:
	case FINDING_DISAGREES:
		break;
	case FINDING_EMISSIVITY:
	case FINDING_ELEMENTS:
	case FINDING_LOT_FLOW:
	case FINDING_LOT_THICKNESS:
	case FINDING_LOT:
	case FINDING_COLD_STACK:
	case FINDING_MAINS:
	case FINDING_DRAUGHT:
	case FINDING_SUPPLY_FLOW:
	case FINDING_SUPPLY_TEMPERATURE:
	case FINDING_CAUSE_COUNT:
		return ROLE_COUNT;
	}
	feature_family(finding->feature, &first);
	return first == FEATURE_EXIT_TOP_FIRST      ? ROLE_SURFACE_TOP
	       : first == FEATURE_EXIT_BOTTOM_FIRST ? ROLE_SURFACE_BOTTOM
	       : first == FEATURE_TOOL_MEAN_FIRST   ? ROLE_TOOL
	       : first == FEATURE_WATER_RISE_FIRST  ? ROLE_WATER_RETURN
	       : first == FEATURE_WATER_FLOW_FIRST  ? ROLE_WATER_FLOW
	                                            : ROLE_COUNT;
}

static const struct channel_settings *
find_channel(const struct settings *settings, int line, const struct kind *kind,
    enum role role, int position)
{
	const struct line_settings *its = &settings->lines[line];

	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];
		bool here = channel->side < 0 ||
		            strcmp(its->sides[channel->side], kind->side) == 0;
		bool last = (role != ROLE_SURFACE_TOP && role != ROLE_SURFACE_BOTTOM) ||
		            channel->oven == its->oven_count - 1;
		if (settings->devices[channel->device].line == (uint32_t)line &&
		    channel->role == role && channel->position == position && here &&
		    last)
			return channel;
	}
	return NULL;
}

void
found_channel(const struct settings *settings, int line, const struct found *found,
    const struct finding *finding, char *name)
{
	enum role role = role_of(finding);
	const struct channel_settings *channel = NULL;

	name[0] = '\0';
	if (role != ROLE_COUNT && finding->position > 0)
		channel =
		    find_channel(settings, line, &found->kind, role, finding->position);
	if (!channel && role == ROLE_WATER_FLOW && finding->position > 0)
		channel = find_channel(
		    settings, line, &found->kind, ROLE_WATER_RETURN, finding->position);
	if (channel)
		calibrate_name(settings, (size_t)(channel - settings->channels), name);
}
