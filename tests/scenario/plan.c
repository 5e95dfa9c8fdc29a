/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/scenario/plan.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/text.h"

enum { TEXT_MAX = 32768, RING = 1, CARRIAGE = 2, ANY = RING | CARRIAGE };

static const char *const sides[LINE_SIDES] = {"left", "right"};

struct builder {
	struct text text;
	struct plan *plan;
	const struct line_rules *rules;
	int address;
	bool one_device;
};

static const struct {
	const char *kind, *line;
} lines[] = {
    {"rotary", "machine = rotary\nstations = load, oven, form\n"},
    {"rotary-two-ovens", "machine = rotary\nstations = load, oven-a, oven-b, form\n"},
    {"rotary-unload", "machine = rotary\nstations = load, oven, form, unload\n"},
    {"shuttle", "machine = shuttle\nstations = load, oven, form\n"},
    {"shuttle-two-sides",
	"machine = shuttle\nstations = load, oven, form\nsides = left, right\n"},
    {"single-station", "machine = single-station\nstations = load, oven, form\n"},
};

static const struct {
	const char *role;
	int bit, machines, debounce_ms;
	bool by_side;
} bits[] = {
    {"rotating", LINE_ROTATING, RING, 0, false},
    {"form_closed", LINE_FORM_CLOSED, ANY, 0, true},
    {"oven_in", LINE_OVEN_IN, CARRIAGE, 0, true},
    {"clamp_closed", LINE_CLAMP_CLOSED, CARRIAGE, 0, true},
    {"sheet_in_frame", LINE_SHEET_IN_FRAME, CARRIAGE, 0, true},
    {"sag_eye", LINE_SAG_EYE, ANY, 400, false},
    {"sheet_at_load", LINE_SHEET_AT_LOAD, RING, 0, false},
    {"sheet_at_form", LINE_SHEET_AT_FORM, RING, 0, false},
    {"automatic", LINE_AUTOMATIC, ANY, 0, false},
    {"fault", LINE_FAULT, ANY, 0, false},
};

/* One channel of its own; `more` are lines of its settings. */
static void
add(struct builder *builder, int poll, const char *role, int place,
    struct plan_channel channel, const char *more)
{
	struct plan *plan = builder->plan;

	text_printf(&builder->text,
	    "[channel %s.%s_%d]\nrole = %s\ntable = %s\naddress = %d\n%s",
	    builder->one_device || poll == PLAN_CONTROLLER ? "plc" : "io", role, place,
	    role, channel.source == PLAN_BIT ? "discrete" : "holding",
	    builder->address++, more);
	if (builder->one_device)
		text_printf(
		    &builder->text, "period_ms = %g\n", plan->period_s[poll] * 1e3);
	plan->channels[poll][plan->count[poll]++] = channel;
}

static void
add_bits(struct builder *builder)
{
	const struct line_rules *rules = builder->rules;
	char more[120];

	for (size_t i = 0; i < sizeof bits / sizeof bits[0]; i++) {
		int count = bits[i].by_side ? rules->sides : 1;

		if (!(bits[i].machines & (rules->ring ? RING : CARRIAGE)))
			continue;
		for (int side = 0; side < count; side++) {
			snprintf(more, sizeof more,
			    "type = bit\ndebounce_ms = %d\n%s%s\n", bits[i].debounce_ms,
			    count > 1 ? "side = " : "", count > 1 ? sides[side] : "");
			add(builder, PLAN_CONTROLLER, bits[i].role, side,
			    (struct plan_channel){PLAN_BIT, bits[i].bit + side}, more);
		}
	}
	add(builder, PLAN_CONTROLLER, "recipe", 0,
	    (struct plan_channel){PLAN_RECIPE, 0}, "type = uint16\n");
	add(builder, PLAN_CONTROLLER, "cycle_count", 0,
	    (struct plan_channel){PLAN_COUNT, 0}, "type = uint16\n");
}

static void
add_oven(struct builder *builder, int oven)
{
	struct plan_channel surface = {PLAN_SURFACE, oven}, zone = {PLAN_ZONE, oven};
	char where[40] = "", surfaces[120], zones[120];

	if (builder->rules->ovens > 1)
		snprintf(where, sizeof where, "station = oven-%c\n", 'a' + oven);
	snprintf(surfaces, sizeof surfaces,
	    "type = int16\nscale = 0.1\nunit = C\nposition = 1\n%s", where);
	snprintf(zones, sizeof zones,
	    "type = uint16\nscale = 0.1\nunit = %%\nrated_kw = 3\nposition = 1\n%s",
	    where);
	add(builder, PLAN_MEASURES, "surface_top", oven, surface, surfaces);
	add(builder, PLAN_MEASURES, "surface_bottom", oven, surface, surfaces);
	add(builder, PLAN_MEASURES, "zone_top", oven, zone, zones);
}

static void
add_tool(struct builder *builder, int side)
{
	char more[120], where[40] = "";

	if (builder->rules->sides > 1)
		snprintf(where, sizeof where, "side = %s\n", sides[side]);
	int poll = builder->one_device ? PLAN_TOOLS : PLAN_MEASURES;

	for (int i = 0; i < 2; i++) {
		snprintf(more, sizeof more,
		    "type = int16\nscale = 0.1\nunit = C\nposition = %d\n%s", i + 1,
		    where);
		add(builder, poll, "tool", 2 * side + i,
		    (struct plan_channel){PLAN_TOOL, side}, more);
	}
	snprintf(more, sizeof more, "type = int16\nscale = 0.1\nunit = C\n%s", where);
	add(builder, poll, "water_supply", side,
	    (struct plan_channel){PLAN_WATER, side}, more);
}

static void
write_head(struct builder *builder, const char *kind)
{
	const struct line_rules *rules = builder->rules;
	const char *line = "";

	for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
		if (strcmp(lines[i].kind, kind) == 0)
			line = lines[i].line;
	text_printf(&builder->text,
	    "[site]\nname = t\ntimezone = UTC\ntemperature_unit = C\n"
	    "[ledger]\npath = /tmp/none.db\n[line x]\n%sheat_min_s = %g\n"
	    "heat_timer_s = %g\nform_limit_s = 20\nform_min_s = %g\n"
	    "startup_shots = %d\nstartup_after_s = %g\nrate_from_s = 2\n"
	    "rate_to_s = 12\ncoverage_min_percent = 80\n",
	    line, rules->heat_min_s, rules->timer_s, PLAN_FORM_MIN_S,
	    rules->startup_shots, rules->startup_after_s);
	text_printf(&builder->text,
	    "[device plc]\nline = x\naddress = 127.0.0.1:1502\nunit_id = 1\n"
	    "period_ms = %g\n[recipe %d]\nname = seven\n",
	    PLAN_CONTROLLER_S * 1e3, PLAN_RECIPE_NUMBER);
	if (!builder->one_device)
		text_printf(&builder->text,
		    "[device io]\nline = x\naddress = 127.0.0.1:1503\nunit_id = 1\n"
		    "period_ms = %g\n",
		    builder->plan->period_s[PLAN_MEASURES] * 1e3);
}

static void
parse(struct plan *plan, const char *text, const char *kind)
{
	struct problems problems;

	plan->settings = settings_parse(text, kind, &problems);
	if (plan->settings != NULL)
		return;
	for (size_t i = 0; i < problems.count && i < SETTINGS_PROBLEMS; i++)
		fprintf(stderr, "%s\n", problems.list[i].text);
	exit(1);
}

/* Where in the settings each poll's channels stand. */
static void
place_polls(struct plan *plan, bool one_device)
{
	for (int poll = 0; poll < PLAN_POLLS; poll++) {
		uint32_t device =
		    one_device || plan->count[poll] == 0 ? 0 : (uint32_t)poll;
		const struct device_settings *its = &plan->settings->devices[device];
		int group = one_device ? poll : 0;

		plan->device[poll] = device;
		if (plan->count[poll] == 0)
			continue;
		assert(group < its->group_count);
		assert(its->groups[group].count == plan->count[poll]);
		plan->first[poll] = its->groups[group].first;
	}
}

void
plan_init(struct plan *plan, const char *kind, const struct line_rules *rules,
    double measures_s, bool one_device)
{
	struct builder builder = {
	    .plan = plan, .rules = rules, .one_device = one_device};

	*plan =
	    (struct plan){.period_s = {PLAN_CONTROLLER_S, measures_s, PLAN_TOOLS_S}};
	text_init(&builder.text, TEXT_MAX);
	write_head(&builder, kind);
	add_bits(&builder);
	if (!one_device)
		builder.address = 0;
	for (int oven = 0; oven < rules->ovens; oven++)
		add_oven(&builder, oven);
	for (int side = 0; side < rules->sides; side++)
		add_tool(&builder, side);
	parse(plan, builder.text.bytes, kind);
	text_release(&builder.text);
	place_polls(plan, one_device);
}

const struct plan_channel *
plan_channel(const struct plan *plan, uint32_t channel)
{
	for (int poll = 0; poll < PLAN_POLLS; poll++) {
		uint32_t first =
		    plan->settings->devices[plan->device[poll]].first_channel +
		    plan->first[poll];

		if (channel - first < plan->count[poll])
			return &plan->channels[poll][channel - first];
	}
	assert(!"a channel of the plan");
	return NULL;
}

void
plan_release(struct plan *plan)
{
	settings_free(plan->settings);
}
