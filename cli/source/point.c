/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/point.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/text.h"

static const char *const names[POINT_FIXED] = {
    [POINT_LINE] = "line",
    [POINT_RECIPE] = "recipe",
    [POINT_TOOL] = "tool",
    [POINT_MATERIAL] = "material",
    [POINT_OUTCOME] = "outcome",
    [POINT_REVISION] = "revision",
    [POINT_FEATURE] = "feature",
    [POINT_REASON] = "reason",
    [POINT_LOT] = "lot",
    [POINT_SIDE] = "side",
    [POINT_SET_POINTS] = "set_points",
    [POINT_PROPERTIES] = "properties",
    [POINT_SET_UP] = "set_up",
    [POINT_SHOT_NO] = "shot_no",
    [POINT_FILED_US] = "filed_us",
    [POINT_LOADED_US] = "loaded_us",
    [POINT_HEAT_START_US] = "heat_start_us",
    [POINT_HEAT_END_US] = "heat_end_us",
    [POINT_FORM_START_US] = "form_start_us",
    [POINT_FORM_END_US] = "form_end_us",
    [POINT_CLOSED_US] = "closed_us",
    [POINT_FLAGS] = "flags",
    [POINT_CYCLE_COUNT] = "cycle_count",
    [POINT_UNCERTAINTY_S] = "uncertainty_s",
};

const char *
point_name(int field)
{
	return field < POINT_FIXED ? names[field]
	                           : feature_get(field - POINT_FIXED)->name;
}

int
point_find(const char *name)
{
	for (int i = 0; i < POINT_FIXED; i++)
		if (strcmp(name, names[i]) == 0)
			return i;
	int feature = feature_find(name);
	return feature < 0 ? POINT_UNKNOWN : POINT_FIXED + feature;
}

const char *
point_tag(const char *value)
{
	return strcmp(value, "unknown") == 0 ? "" : value;
}

void
point_blank(struct ledger_shot *shot, const char *line)
{
	*shot = (struct ledger_shot){.cycle_count = -1, .uncertainty_s = NAN};
	text_copy(shot->line, sizeof shot->line, point_tag(line));
	for (int i = 0; i < FEATURE_COUNT; i++) {
		shot->value[i] = NAN;
		shot->absent[i] = ABSENT_NOT_CONFIGURED;
	}
}

static enum shot_outcome
outcome_of(const char *text)
{
	for (int i = SHOT_OUTCOME_COUNT - 1; i > 0; i--)
		if (strcmp(text, shot_outcome_text((enum shot_outcome)i)) == 0)
			return (enum shot_outcome)i;
	return (enum shot_outcome)0;
}

void
point_set_text(struct ledger_shot *shot, int field, const char *value)
{
	const struct {
		int field;
		char *to;
		size_t room;
	} texts[] = {
	    {POINT_RECIPE, shot->recipe, sizeof shot->recipe},
	    {POINT_TOOL, shot->tool, sizeof shot->tool},
	    {POINT_MATERIAL, shot->material, sizeof shot->material},
	    {POINT_REASON, shot->reason, sizeof shot->reason},
	    {POINT_LOT, shot->lot, sizeof shot->lot},
	    {POINT_SIDE, shot->side, sizeof shot->side},
	    {POINT_PROPERTIES, shot->properties, sizeof shot->properties},
	};

	if (field == POINT_OUTCOME)
		shot->outcome = outcome_of(value);
	else if (field == POINT_SET_POINTS)
		shot->set_points = strtoull(value, NULL, 16);
	for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
		if (texts[i].field == field)
			text_copy(texts[i].to, texts[i].room,
			    field == POINT_RECIPE || field == POINT_TOOL ||
				    field == POINT_MATERIAL
				? point_tag(value)
				: value);
}

/* A count that came as a double, 0 when it can be none. */
static int64_t
whole(double value)
{
	return fabs(value) < 9e15 ? llround(value) : 0;
}

struct wall
point_time(int64_t point_ns, double us)
{
	int64_t second_ns = point_ns - point_ns % CLOCK_SECOND_NS;
	int64_t ns;

	/* what cannot be is the second itself */
	if (__builtin_mul_overflow(whole(us), INT64_C(1000), &ns) ||
	    __builtin_add_overflow(second_ns, ns, &ns))
		ns = second_ns;
	return (struct wall){ns};
}

void
point_set_number(struct ledger_shot *shot, int field, int64_t point_ns, double value)
{
	const struct {
		int field;
		struct wall *to;
	} times[] = {
	    {POINT_FILED_US, &shot->filed_at},
	    {POINT_LOADED_US, &shot->loaded_at},
	    {POINT_HEAT_START_US, &shot->heat_start_at},
	    {POINT_HEAT_END_US, &shot->heat_end_at},
	    {POINT_FORM_START_US, &shot->form_start_at},
	    {POINT_FORM_END_US, &shot->form_end_at},
	    {POINT_CLOSED_US, &shot->closed_at},
	};

	if (!isfinite(value))
		return;
	if (field >= POINT_FIXED) {
		shot->value[field - POINT_FIXED] = value;
		shot->absent[field - POINT_FIXED] = ABSENT_NOT;
		return;
	}
	for (size_t i = 0; i < sizeof times / sizeof times[0]; i++)
		if (times[i].field == field)
			*times[i].to = point_time(point_ns, value);
	if (field == POINT_SHOT_NO)
		shot->shot_no = whole(value);
	else if (field == POINT_FLAGS)
		shot->flags = (uint32_t)whole(value);
	else if (field == POINT_CYCLE_COUNT)
		shot->cycle_count = whole(value);
	else if (field == POINT_UNCERTAINTY_S)
		shot->uncertainty_s = value;
}

void
point_set_absent(struct ledger_shot *shot, const char *feature, const char *reason)
{
	int id = feature_find(feature);

	if (id < 0 || shot->absent[id] == ABSENT_NOT)
		return;
	for (int i = ABSENT_NOT + 1; i < ABSENT_NOT_CONFIGURED; i++)
		if (strcmp(reason, absent_text((enum absent)i)) == 0)
			shot->absent[id] = (unsigned char)i;
}
