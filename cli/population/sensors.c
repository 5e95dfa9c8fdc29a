/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/sensors.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "conf/words.h"
#include "daemon/base/text.h"

#define BIT(role) (1ULL << (role))
_Static_assert(ROLE_COUNT <= 64, "a set of roles has 64 bits");

/* What times are taken by: a machine has those of its kind. */
#define MOVES (BIT(ROLE_ROTATING) | BIT(ROLE_OVEN_IN))
#define FORM BIT(ROLE_FORM_CLOSED)
#define TOP BIT(ROLE_SURFACE_TOP)
#define BOTTOM BIT(ROLE_SURFACE_BOTTOM)
#define ZONES (BIT(ROLE_ZONE_TOP) | BIT(ROLE_ZONE_BOTTOM))
#define WATER (BIT(ROLE_WATER_SUPPLY) | BIT(ROLE_WATER_RETURN))
#define FLOW BIT(ROLE_WATER_FLOW)
#define INSIDE (TOP | BOTTOM | BIT(ROLE_STACK) | BIT(ROLE_AMBIENT) | BIT(ROLE_OVEN_AIR))

typedef unsigned long long role_set;

static const role_set of_fixed[FEATURE_FIXED_COUNT] = {
    [FEATURE_HEAT_S] = MOVES,
    [FEATURE_SAG_S] = MOVES | BIT(ROLE_SAG_EYE),
    [FEATURE_SOAK_WAIT_S] = MOVES | BIT(ROLE_SAG_EYE),
    [FEATURE_HEAT_GAP_S] = MOVES,
    [FEATURE_EXIT_TOP_C] = TOP,
    [FEATURE_EXIT_BOTTOM_C] = BOTTOM,
    [FEATURE_EXIT_DIFFERENCE_DC] = TOP | BOTTOM,
    [FEATURE_EXIT_SPREAD_TOP_DC] = TOP,
    [FEATURE_EXIT_SPREAD_BOTTOM_DC] = BOTTOM,
    [FEATURE_RATE_TOP] = TOP,
    [FEATURE_RATE_BOTTOM] = BOTTOM,
    [FEATURE_STACK_C] = BIT(ROLE_STACK),
    [FEATURE_ENERGY_KWH] = ZONES,
    [FEATURE_ENERGY_TOP_KWH] = BIT(ROLE_ZONE_TOP),
    [FEATURE_ENERGY_BOTTOM_KWH] = BIT(ROLE_ZONE_BOTTOM),
    [FEATURE_METER_KWH] = BIT(ROLE_ENERGY_METER),
    [FEATURE_SATURATION_MAX] = ZONES,
    [FEATURE_SATURATED_ZONES] = ZONES,
    [FEATURE_METER_RATIO] = ZONES | BIT(ROLE_ENERGY_METER),
    [FEATURE_AMBIENT_C] = BIT(ROLE_AMBIENT),
    [FEATURE_HEAT_COVERAGE] = 0,
    [FEATURE_SHEET_THICKNESS_MM] = 0,
    [FEATURE_CORE_HEAT_END_C] = INSIDE,
    [FEATURE_CORE_HEAT_END_BAND_DC] = INSIDE,
    [FEATURE_SHEET_MEAN_HEAT_END_C] = INSIDE,
    [FEATURE_SHEET_MEAN_HEAT_END_BAND_DC] = INSIDE,
    [FEATURE_SURFACE_CORE_DC] = INSIDE,
    [FEATURE_SURFACE_CORE_BAND_DC] = INSIDE,
    [FEATURE_SOAK_INDEX] = INSIDE,
    [FEATURE_FOURIER] = MOVES,
    [FEATURE_CORE_PYROMETERS_TOP] = TOP,
    [FEATURE_CORE_PYROMETERS_BOTTOM] = BOTTOM,
    [FEATURE_CORE_FORM_START_C] = INSIDE,
    [FEATURE_CORE_FORM_START_BAND_DC] = INSIDE,
    [FEATURE_SHEET_MEAN_FORM_START_C] = INSIDE,
    [FEATURE_SHEET_MEAN_FORM_START_BAND_DC] = INSIDE,
    [FEATURE_ABOVE_LIMIT_S] = INSIDE,
    [FEATURE_TRANSFER_S] = MOVES | FORM,
    [FEATURE_FORM_S] = FORM,
    [FEATURE_TOOL_MEAN_C] = BIT(ROLE_TOOL),
    [FEATURE_TOOL_SPREAD_START_DC] = BIT(ROLE_TOOL),
    [FEATURE_TOOL_SPREAD_MEAN_DC] = BIT(ROLE_TOOL),
    [FEATURE_TOOL_SPREAD_P95_DC] = BIT(ROLE_TOOL),
    [FEATURE_TOOL_SPREAD_OF_MEANS_DC] = BIT(ROLE_TOOL),
    [FEATURE_TOOL_SWING_DC] = BIT(ROLE_TOOL),
    [FEATURE_TOOL_DRIFT_DC] = BIT(ROLE_TOOL),
    [FEATURE_WATER_SUPPLY_C] = BIT(ROLE_WATER_SUPPLY),
    [FEATURE_WATER_RISE_DC] = WATER,
    [FEATURE_HEAT_REMOVED_KWH] = WATER | FLOW,
    [FEATURE_HEAT_BROUGHT_KWH] = INSIDE,
    [FEATURE_HEAT_BALANCE] = INSIDE | WATER | FLOW,
    [FEATURE_RECOVERY_S] = BIT(ROLE_TOOL) | BIT(ROLE_WATER_SUPPLY),
    [FEATURE_FORM_COVERAGE] = 0,
    [FEATURE_CYCLE_S] = FORM,
    [FEATURE_CYCLE_FORMING_S] = FORM,
    [FEATURE_CYCLE_WAIT_SAG_S] = MOVES | FORM | BIT(ROLE_SAG_EYE),
    [FEATURE_CYCLE_WAIT_LINE_S] = MOVES | FORM | BIT(ROLE_SAG_EYE),
    [FEATURE_CYCLE_INDEX_S] = MOVES | FORM,
    [FEATURE_CYCLE_CLOSING_S] = MOVES | FORM,
};

/* Of a family, with the position that counts; 0: all of them. */
static role_set
of_family(int feature, int *position)
{
	static const struct {
		int first;
		role_set roles;
	} families[] = {
	    {FEATURE_REYNOLDS_FIRST, WATER | FLOW},
	    {FEATURE_RESISTANCE_FIRST, WATER | FLOW | BIT(ROLE_TOOL)},
	    {FEATURE_HEAT_REMOVED_FIRST, WATER | FLOW},
	    {FEATURE_WATER_FLOW_FIRST, FLOW},
	    {FEATURE_RECOVERY_FIRST, BIT(ROLE_TOOL) | BIT(ROLE_WATER_SUPPLY)},
	    {FEATURE_TOOL_MEAN_FIRST, BIT(ROLE_TOOL)},
	    {FEATURE_WATER_RISE_FIRST, WATER},
	    {FEATURE_EXIT_BOTTOM_FIRST, BOTTOM},
	    {FEATURE_EXIT_TOP_FIRST, TOP},
	};

	for (size_t i = 0; i < sizeof families / sizeof families[0]; i++)
		if (feature >= families[i].first) {
			*position = feature - families[i].first + 1;
			return families[i].roles;
		}
	*position = 0;
	return of_fixed[feature];
}

bool
sensors_rest_on(int feature, const struct channel_settings *channel)
{
	int position;
	role_set roles = of_family(feature, &position);

	if (!(roles & BIT(channel->role)))
		return false;
	/* position 0 is common to all circuits */
	return position == 0 || channel->position == 0 || channel->position == position;
}

bool
sensors_computed(int feature)
{
	return (feature >= FEATURE_CORE_HEAT_END_C &&
		   feature <= FEATURE_ABOVE_LIMIT_S) ||
	       feature == FEATURE_HEAT_BROUGHT_KWH || feature == FEATURE_HEAT_BALANCE;
}

/* --- a channel in words ------------------------------------------------------------- */

static bool
is(double a, double b)
{
	return (isnan(a) && isnan(b)) || !(a < b || a > b || isnan(a) || isnan(b));
}

static void
add_bit(const struct channel_settings *channel, struct text *text)
{
	if (channel->bit >= 0)
		text_printf(text, " %d", channel->bit);
	if (channel->inverted)
		text_puts(text, ", inverted");
	if (channel->debounce_s > 0)
		text_printf(text, ", debounced %g s", channel->debounce_s);
}

void
sensors_channel_words(const struct settings *settings,
    const struct channel_settings *channel, char words[static SENSORS_WORDS])
{
	struct text text;

	text_init(&text, SENSORS_WORDS);
	text_printf(&text, "%s.%s: %s %u, %s", settings->devices[channel->device].name,
	    channel->name, words_table.list[channel->table], channel->address,
	    words_encoding.list[channel->encoding]);
	if (channel->encoding == ENCODING_BIT) {
		add_bit(channel, &text);
	} else {
		if (channel->encoding >= ENCODING_INT32)
			text_printf(&text, " %s", words_order.list[channel->order]);
		if (!is(channel->scale, 1))
			text_printf(&text, ", times %.10g", channel->scale);
		if (!is(channel->offset, 0))
			text_printf(&text, ", plus %.10g", channel->offset);
		if (*unit_text(channel->unit))
			text_printf(&text, ", %s", unit_text(channel->unit));
		if (channel->rated_w > 0)
			text_printf(&text, ", %g W", channel->rated_w);
		if (isfinite(channel->on_si))
			text_printf(&text, ", on at %g, off at %g", channel->on_si,
			    channel->off_si);
	}
	text_copy(words, SENSORS_WORDS, text.bytes ? text.bytes : "");
	text_release(&text);
}

/* --- two set-ups --------------------------------------------------------------------- */

struct comparing {
	int feature;
	int differing;
	char *words;
};

static void
add(struct comparing *comparing, const char *subject, const char *was, const char *is)
{
	if (comparing->differing++ == 0)
		snprintf(comparing->words, SENSORS_WORDS,
		    "%.60s was '%.140s', is '%.140s'", subject, was, is);
}

static bool
belongs(const struct sensors_of *of, const struct channel_settings *channel)
{
	if ((int)of->settings->devices[channel->device].line != of->line)
		return false;
	return channel->side < 0 ||
	       strcmp(of->settings->lines[of->line].sides[channel->side], of->side) ==
	           0;
}

/* The one that is there for the same thing; NULL: none. */
static const struct channel_settings *
counterpart(const struct sensors_of *of, const struct channel_settings *wanted)
{
	for (size_t i = 0; i < of->settings->channel_count; i++) {
		const struct channel_settings *channel = &of->settings->channels[i];
		if (channel->role == wanted->role &&
		    channel->position == wanted->position &&
		    channel->oven == wanted->oven && belongs(of, channel))
			return channel;
	}
	return NULL;
}

/* "surface_top 2", "energy_meter", "zone_top 4 of oven 2" */
static void
subject_words(const struct channel_settings *channel, char *words, size_t room)
{
	char position[24] = "", oven[24] = "";

	if (channel->position > 0)
		snprintf(position, sizeof position, " %d", channel->position);
	if (channel->oven > 0)
		snprintf(oven, sizeof oven, " of oven %d", channel->oven + 1);
	snprintf(words, room, "%s%s%s", role_text(channel->role), position, oven);
}

static void
compare_channels(struct comparing *comparing, const struct sensors_of *from,
    const struct sensors_of *to, bool added)
{
	for (size_t i = 0; i < from->settings->channel_count; i++) {
		const struct channel_settings *one = &from->settings->channels[i];
		char subject[80], here[SENSORS_WORDS], there[SENSORS_WORDS];
		if (!belongs(from, one) || !sensors_rest_on(comparing->feature, one))
			continue;
		const struct channel_settings *other = counterpart(to, one);
		if (added && other)
			continue; /* was compared the other way round */
		subject_words(one, subject, sizeof subject);
		sensors_channel_words(from->settings, one, here);
		if (!other) {
			add(comparing, subject, added ? "not there" : here,
			    added ? here : "not there");
			continue;
		}
		sensors_channel_words(to->settings, other, there);
		if (strcmp(here, there) != 0)
			add(comparing, subject, here, there);
	}
}

static void
compare_number(struct comparing *comparing, const char *name, double was, double now)
{
	char before[32], after[32];

	if (is(was, now))
		return;
	snprintf(before, sizeof before, "%.10g", was);
	snprintf(after, sizeof after, "%.10g", now);
	add(comparing, name, before, after);
}

static bool
rests_on_flow(int feature)
{
	int position;

	return (of_family(feature, &position) & (WATER | FLOW)) == (WATER | FLOW);
}

/* What else the line's set-up says of how it is made. */
static void
compare_line(struct comparing *comparing, const struct line_settings *was,
    const struct line_settings *now)
{
	int feature = comparing->feature;
	bool seen =
	    (feature >= FEATURE_EXIT_TOP_C && feature <= FEATURE_RATE_BOTTOM) ||
	    (feature >= FEATURE_EXIT_TOP_FIRST && feature < FEATURE_WATER_RISE_FIRST);

	if ((seen || sensors_computed(feature)) && was->view != now->view)
		add(comparing, "pyrometers", was->view == VIEW_OVEN ? "oven" : "exit",
		    now->view == VIEW_OVEN ? "oven" : "exit");
	if (feature == FEATURE_RATE_TOP || feature == FEATURE_RATE_BOTTOM) {
		compare_number(
		    comparing, "rate_from_s", was->rate_from_s, now->rate_from_s);
		compare_number(comparing, "rate_to_s", was->rate_to_s, now->rate_to_s);
	}
	if (rests_on_flow(feature)) {
		compare_number(comparing, "coolant_heat_percent",
		    100 * was->coolant_heat_ratio, 100 * now->coolant_heat_ratio);
		compare_number(comparing, "coolant_viscosity_ratio",
		    was->coolant_viscosity_ratio, now->coolant_viscosity_ratio);
	}
	if (!sensors_computed(feature))
		return;
	compare_number(
	    comparing, "pyrometer_lag_s", was->pyrometer_lag_s, now->pyrometer_lag_s);
	compare_number(comparing, "start_temperature", was->start_c, now->start_c);
	compare_number(
	    comparing, "transfer_w_per_m2k", was->transfer_w_m2k, now->transfer_w_m2k);
	compare_number(
	    comparing, "oven_air_w_per_m2k", was->oven_air_w_m2k, now->oven_air_w_m2k);
}

bool
sensors_same(const struct sensors_of *then, const struct sensors_of *now, int feature,
    char words[static SENSORS_WORDS])
{
	struct comparing comparing = {.feature = feature, .words = words};

	words[0] = '\0';
	compare_channels(&comparing, then, now, false);
	compare_channels(&comparing, now, then, true);
	compare_line(&comparing, &then->settings->lines[then->line],
	    &now->settings->lines[now->line]);
	if (comparing.differing > 1) {
		size_t used = strlen(words);
		snprintf(words + used, SENSORS_WORDS - used, ", and %d more",
		    comparing.differing - 1);
	}
	return comparing.differing == 0;
}
