/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/bus.h"
#include "conf/channel.h"
#include "conf/draft.h"
#include "conf/fault_bit.h"
#include "conf/inside.h"
#include "conf/layout.h"
#include "conf/line.h"
#include "conf/material.h"
#include "conf/pace.h"
#include "conf/program_file.h"
#include "conf/shift_check.h"
#include "conf/stores.h"
#include "conf/value.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

/* --- names that lead to other sections -------------------------------------------- */

/* The part that `setting` names, or NULL: not told, or a mistake. */
static struct part *
follow(struct draft *draft, struct part *part, const char *setting, const char *name,
    enum section_kind kind)
{
	const char *word = schema_section(kind)->kind;
	struct part *target;
	char hint[DRAFT_HINT];

	if (!part_has(part, setting) || !part_sound(part, setting))
		return NULL;
	target = draft_find(draft, kind, name);
	if (target || (kind == SECTION_MATERIAL && draft->materials_missing))
		return target;
	draft_hint(draft, kind, name, hint);
	if (*hint)
		part_refuse(draft, part, setting,
		    "'%s' is '%s', but there is no [%s %s]%s", setting, name, word,
		    name, hint);
	else
		part_refuse(draft, part, setting,
		    "'%s' is '%s', but there is no [%s %s]: write that section, or "
		    "mend the name",
		    setting, name, word, name);
	return NULL;
}

static bool
has_recipe(const struct draft *draft, int number)
{
	const struct part *recipe = NULL;

	while ((recipe = draft_next(draft, SECTION_RECIPE, recipe)) != NULL)
		if (recipe->as.recipe.number == number)
			return true;
	return false;
}

static void
resolve(struct draft *draft)
{
	struct part *part = NULL;
	int64_t number;

	while ((part = draft_next(draft, SECTION_DEVICE, part)) != NULL) {
		part->parent =
		    follow(draft, part, "line", part->as.device.line, SECTION_LINE);
		part->as.device.bus =
		    follow(draft, part, "bus", part->as.device.bus_name, SECTION_BUS);
	}
	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL)
		channel_resolve(draft, part);
	while ((part = draft_next(draft, SECTION_RECIPE, part)) != NULL) {
		part->as.recipe.number =
		    text_integer(part->source->name, &number) ? (int)number : -1;
		follow(draft, part, "material", part->as.recipe.material,
		    SECTION_MATERIAL);
	}
}

/* --- limits ----------------------------------------------------------------------- */

static void
find_feature(struct draft *draft, struct part *part)
{
	const char *name = part->source->name;
	char feature[SETTINGS_NAME];
	const char *near;

	snprintf(feature, sizeof feature, "%.*s", (int)strcspn(name, " \t"), name);
	part->as.limits.out.feature = feature_find(feature);
	if (part->as.limits.out.feature >= 0 || !*name)
		return;
	near = feature_nearest(feature);
	part_refuse(draft, part, NULL, "unknown feature '%s' in %s%s%s%s", feature,
	    part->source->title, near ? "; did you mean '" : "",
	    near ? near : ": write one such as exit_top_c or cycle_s",
	    near ? "'?" : "");
}

static double
read_limit(
    struct draft *draft, struct part *part, const char *setting, const char *text)
{
	int feature = part->as.limits.out.feature;
	struct error error;
	double si = NAN;

	if (text && feature >= 0 && part_sound(part, setting) &&
	    value_measure(text, feature_get(feature)->dimension, &si, &error) != 0)
		part_refuse(draft, part, setting, "'%s' is '%s': %s", setting, text,
		    error.text);
	return si;
}

static void
check_twins(struct draft *draft, struct part *part)
{
	const struct limit_settings *limit = &part->as.limits.out;
	const struct part *twin = NULL;

	while ((twin = draft_next(draft, SECTION_LIMITS, twin)) != part) {
		const struct limit_settings *other = &twin->as.limits.out;

		if (twin->bad || other->feature != limit->feature ||
		    other->recipe != limit->recipe ||
		    strcmp(other->tool, limit->tool) != 0)
			continue;
		part_refuse(draft, part, NULL,
		    "%s has the feature, recipe and tool of %s in line %d: leave one "
		    "out",
		    part->source->title, twin->source->title, twin->source->line);
		return;
	}
}

/* Whether some line has the position that a feature such as exit_top_7_c is about. */
static void
check_position(struct draft *draft, struct part *part)
{
	int feature = part->as.limits.out.feature, first = feature, most = 0;
	const struct part *line = NULL;

	if (feature < FEATURE_FIXED_COUNT)
		return;
	while ((line = draft_next(draft, SECTION_LINE, line)) != NULL) {
		int count = settings_line_family(&line->as.line, feature, &first);

		if (count > most)
			most = count;
	}
	/* without a line at all it is of lines that a store knows */
	if (feature < first + most || !draft_next(draft, SECTION_LINE, NULL))
		return;
	if (most == 0)
		part_refuse(draft, part, NULL,
		    "%s is about position %d, but no line has any: leave the section "
		    "out, or write their channels",
		    part->source->title, feature - first + 1);
	else
		part_refuse(draft, part, NULL,
		    "%s is about position %d, but a line has %d at most: write %s%s%s",
		    part->source->title, feature - first + 1, most,
		    feature_get(first)->name, most > 1 ? " to " : "",
		    most > 1 ? feature_get(first + most - 1)->name : "");
}

static void
check_limits(struct draft *draft, struct part *part, bool is_counted)
{
	struct limits_draft *limits = &part->as.limits;

	find_feature(draft, part);
	limits->out.lower_si = read_limit(draft, part, "lower", limits->lower);
	limits->out.upper_si = read_limit(draft, part, "upper", limits->upper);
	limits->out.target_si = read_limit(draft, part, "target", limits->target);
	if (!part_has(part, "lower") && !part_has(part, "upper"))
		part_refuse(draft, part, NULL,
		    "%s has no limit: write 'lower', 'upper' or both, with a unit",
		    part->source->title);
	part_check_order(
	    draft, part, "lower", limits->out.lower_si, "upper", limits->out.upper_si);
	if (limits->out.target_si < limits->out.lower_si ||
	    limits->out.target_si > limits->out.upper_si)
		part_refuse(draft, part, "target",
		    "'target' is '%s', which is outside the limits: mend it",
		    limits->target);
	if (part_has(part, "recipe") && part_sound(part, "recipe") &&
	    !has_recipe(draft, limits->out.recipe))
		part_refuse(draft, part, "recipe",
		    "'recipe' is '%d', but there is no [recipe %d]: write that "
		    "section, or mend the number",
		    limits->out.recipe, limits->out.recipe);
	follow(draft, part, "tool", limits->out.tool, SECTION_TOOL);
	if (is_counted)
		check_position(draft, part);
	if (!part->bad)
		check_twins(draft, part);
}

/* --- all -------------------------------------------------------------------------- */

/* The index of each line and device, and whether there are too many. */
static void
number_parts(struct draft *draft, enum section_kind kind, uint32_t most)
{
	struct part *part = NULL;
	uint32_t count = 0;

	while ((part = draft_next(draft, kind, part)) != NULL) {
		part->index = count++;
		if (count == most + 1)
			part_refuse(draft, part, NULL,
			    "%s is one too many: write %u sections of that kind at "
			    "most",
			    part->source->title, most);
	}
}

void
check_draft(struct draft *draft)
{
	struct part *part = NULL;
	bool is_counted;

	number_parts(draft, SECTION_LINE, SETTINGS_LINES);
	number_parts(draft, SECTION_BUS, SETTINGS_DEVICES);
	number_parts(draft, SECTION_DEVICE, SETTINGS_DEVICES);
	resolve(draft);
	stores_check(draft);
	program_file_check_draft(draft);
	while ((part = draft_next(draft, SECTION_MATERIAL, part)) != NULL)
		material_check(draft, part);
	while ((part = draft_next(draft, SECTION_RECIPE, part)) != NULL)
		inside_check_recipe(draft, part);
	while ((part = draft_next(draft, SECTION_LINE, part)) != NULL) {
		line_check(draft, part);
		inside_check_line(draft, part);
	}
	while ((part = draft_next(draft, SECTION_BUS, part)) != NULL)
		bus_check(draft, part);
	while ((part = draft_next(draft, SECTION_DEVICE, part)) != NULL)
		bus_check_device(draft, part);
	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL)
		channel_check(draft, part);
	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL)
		fault_bit_check(draft, part);
	pace_check_devices(draft);
	is_counted = layout_check(draft);
	shift_check(draft);
	while ((part = draft_next(draft, SECTION_LIMITS, part)) != NULL)
		check_limits(draft, part, is_counted);
}
