/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/notes.h"

#include <stdbool.h>
#include <stdio.h>

#include "conf/machine.h"
#include "conf/note.h"
#include "conf/notes_bus.h"
#include "conf/notes_inside.h"
#include "conf/notes_line.h"
#include "conf/notes_material.h"
#include "conf/notes_store.h"
#include "conf/settings.h"
#include "conf/words.h"

/* --- addresses as manuals write them ------------------------------------------------ */

/* What a manual adds to the number of a register or input, by table, to say which table
 * it means.  Common practice, no source; coils are written 1 to 9999: not told apart. */
static const int bases[] = {
    [TABLE_COIL] = 0,
    [TABLE_DISCRETE] = 10001,
    [TABLE_HOLDING] = 40001,
    [TABLE_INPUT] = 30001,
};

static bool
is_as_in_a_manual(const struct channel_settings *channel)
{
	int base = bases[channel->table];

	return base > 0 && channel->address >= base && channel->address < base + 9999;
}

/* The channels of a device that have such an address in the table, told at once. */
static void
tell_addresses(const struct notes *notes, const struct device_settings *device,
    enum register_table table)
{
	const struct channel_settings *first = NULL;
	char more[64] = "";
	int count = 0;

	for (uint32_t i = 0; i < device->channel_count; i++) {
		const struct channel_settings *channel =
		    &notes->settings->channels[device->first_channel + i];
		if (channel->table != table || !is_as_in_a_manual(channel))
			continue;
		if (count++ == 0)
			first = channel;
	}
	if (!first)
		return;
	if (count > 1)
		snprintf(more, sizeof more, " and %d more of its device", count - 1);
	note(notes,
	    "channel %s.%s%s: address %d in table %s; a manual's %s %d is address 0 "
	    "here, counted as on the wire",
	    device->name, first->name, more, first->address, words_table.list[table],
	    table == TABLE_DISCRETE ? "input" : "register", bases[table]);
}

/* --- limits ------------------------------------------------------------------------- */

#define ROLE(name) MACHINE_ROLE(ROLE_##name)
/* what the inside of a sheet is computed from */
#define HEATED (ROLE(SURFACE_TOP) | ROLE(SURFACE_BOTTOM) | ROLE(OVEN_AIR))

/* What a line must have for a feature; of several rows each.  A feature of a family
 * stands for all of it. */
static const struct need {
	int feature;
	unsigned roles; /* any of these */
	int least;      /* so many channels of one side */
	bool rated;     /* with rated_kw */
	enum { ANY_OVEN, FIRST_OVEN, LAST_OVEN } oven;
} needs[] = {
    {FEATURE_SAG_S, ROLE(SAG_EYE), 1, false, ANY_OVEN},
    {FEATURE_SOAK_WAIT_S, ROLE(SAG_EYE), 1, false, ANY_OVEN},
    {FEATURE_EXIT_TOP_C, ROLE(SURFACE_TOP), 1, false, LAST_OVEN},
    {FEATURE_EXIT_BOTTOM_C, ROLE(SURFACE_BOTTOM), 1, false, LAST_OVEN},
    {FEATURE_EXIT_DIFFERENCE_DC, ROLE(SURFACE_TOP), 1, false, LAST_OVEN},
    {FEATURE_EXIT_DIFFERENCE_DC, ROLE(SURFACE_BOTTOM), 1, false, LAST_OVEN},
    {FEATURE_EXIT_SPREAD_TOP_DC, ROLE(SURFACE_TOP), 2, false, LAST_OVEN},
    {FEATURE_EXIT_SPREAD_BOTTOM_DC, ROLE(SURFACE_BOTTOM), 2, false, LAST_OVEN},
    {FEATURE_RATE_TOP, ROLE(SURFACE_TOP), 1, false, FIRST_OVEN},
    {FEATURE_RATE_BOTTOM, ROLE(SURFACE_BOTTOM), 1, false, FIRST_OVEN},
    {FEATURE_STACK_C, ROLE(STACK), 1, false, ANY_OVEN},
    {FEATURE_ENERGY_KWH, ROLE(ZONE_TOP) | ROLE(ZONE_BOTTOM), 1, true, ANY_OVEN},
    {FEATURE_ENERGY_TOP_KWH, ROLE(ZONE_TOP), 1, true, ANY_OVEN},
    {FEATURE_ENERGY_BOTTOM_KWH, ROLE(ZONE_BOTTOM), 1, true, ANY_OVEN},
    {FEATURE_METER_KWH, ROLE(ENERGY_METER), 1, false, ANY_OVEN},
    {FEATURE_SATURATION_MAX, ROLE(ZONE_TOP) | ROLE(ZONE_BOTTOM), 1, false, ANY_OVEN},
    {FEATURE_SATURATED_ZONES, ROLE(ZONE_TOP) | ROLE(ZONE_BOTTOM), 1, false, ANY_OVEN},
    {FEATURE_TOOL_MEAN_C, ROLE(TOOL), 1, false, ANY_OVEN},
    {FEATURE_TOOL_SPREAD_START_DC, ROLE(TOOL), 2, false, ANY_OVEN},
    {FEATURE_TOOL_SPREAD_MEAN_DC, ROLE(TOOL), 2, false, ANY_OVEN},
    {FEATURE_TOOL_SPREAD_P95_DC, ROLE(TOOL), 2, false, ANY_OVEN},
    {FEATURE_TOOL_SPREAD_OF_MEANS_DC, ROLE(TOOL), 2, false, ANY_OVEN},
    {FEATURE_TOOL_SWING_DC, ROLE(TOOL), 1, false, ANY_OVEN},
    {FEATURE_TOOL_DRIFT_DC, ROLE(TOOL), 1, false, ANY_OVEN},
    {FEATURE_WATER_SUPPLY_C, ROLE(WATER_SUPPLY), 1, false, ANY_OVEN},
    {FEATURE_WATER_SUPPLY_C, ROLE(WATER_RETURN), 1, false, ANY_OVEN},
    {FEATURE_WATER_RISE_DC, ROLE(WATER_RETURN), 1, false, ANY_OVEN},
    {FEATURE_WATER_RISE_DC, ROLE(WATER_SUPPLY), 1, false, ANY_OVEN},
    {FEATURE_WATER_RISE_FIRST, ROLE(WATER_SUPPLY), 1, false, ANY_OVEN},
    {FEATURE_METER_RATIO, ROLE(ENERGY_METER), 1, false, ANY_OVEN},
    {FEATURE_METER_RATIO, ROLE(ZONE_TOP) | ROLE(ZONE_BOTTOM), 1, true, ANY_OVEN},
    {FEATURE_AMBIENT_C, ROLE(AMBIENT), 1, false, ANY_OVEN},
    {FEATURE_CORE_HEAT_END_C, HEATED, 1, false, ANY_OVEN},
    {FEATURE_CORE_HEAT_END_BAND_DC, HEATED, 1, false, ANY_OVEN},
    {FEATURE_SHEET_MEAN_HEAT_END_C, HEATED, 1, false, ANY_OVEN},
    {FEATURE_SHEET_MEAN_HEAT_END_BAND_DC, HEATED, 1, false, ANY_OVEN},
    {FEATURE_SURFACE_CORE_DC, HEATED, 1, false, ANY_OVEN},
    {FEATURE_SURFACE_CORE_BAND_DC, HEATED, 1, false, ANY_OVEN},
    {FEATURE_SOAK_INDEX, HEATED, 1, false, ANY_OVEN},
    {FEATURE_FOURIER, HEATED, 1, false, ANY_OVEN},
    {FEATURE_CORE_FORM_START_C, HEATED, 1, false, ANY_OVEN},
    {FEATURE_CORE_FORM_START_BAND_DC, HEATED, 1, false, ANY_OVEN},
    {FEATURE_SHEET_MEAN_FORM_START_C, HEATED, 1, false, ANY_OVEN},
    {FEATURE_SHEET_MEAN_FORM_START_BAND_DC, HEATED, 1, false, ANY_OVEN},
    {FEATURE_ABOVE_LIMIT_S, HEATED, 1, false, ANY_OVEN},
    {FEATURE_HEAT_REMOVED_KWH, ROLE(WATER_RETURN), 1, false, ANY_OVEN},
    {FEATURE_HEAT_REMOVED_KWH, ROLE(WATER_FLOW), 1, false, ANY_OVEN},
    {FEATURE_HEAT_REMOVED_KWH, ROLE(WATER_SUPPLY), 1, false, ANY_OVEN},
    {FEATURE_HEAT_BROUGHT_KWH, HEATED, 1, false, ANY_OVEN},
    {FEATURE_HEAT_BALANCE, ROLE(WATER_RETURN), 1, false, ANY_OVEN},
    {FEATURE_HEAT_BALANCE, ROLE(WATER_FLOW), 1, false, ANY_OVEN},
    {FEATURE_HEAT_BALANCE, ROLE(WATER_SUPPLY), 1, false, ANY_OVEN},
    {FEATURE_HEAT_BALANCE, HEATED, 1, false, ANY_OVEN},
    {FEATURE_RECOVERY_S, ROLE(TOOL), 1, false, ANY_OVEN},
    {FEATURE_RECOVERY_S, ROLE(WATER_SUPPLY), 1, false, ANY_OVEN},
    {FEATURE_RECOVERY_FIRST, ROLE(WATER_SUPPLY), 1, false, ANY_OVEN},
    {FEATURE_WATER_FLOW_FIRST, ROLE(WATER_FLOW), 1, false, ANY_OVEN},
    {FEATURE_HEAT_REMOVED_FIRST, ROLE(WATER_FLOW), 1, false, ANY_OVEN},
    {FEATURE_HEAT_REMOVED_FIRST, ROLE(WATER_SUPPLY), 1, false, ANY_OVEN},
    {FEATURE_RESISTANCE_FIRST, ROLE(TOOL), 1, false, ANY_OVEN},
    {FEATURE_RESISTANCE_FIRST, ROLE(WATER_FLOW), 1, false, ANY_OVEN},
    {FEATURE_RESISTANCE_FIRST, ROLE(WATER_SUPPLY), 1, false, ANY_OVEN},
    {FEATURE_REYNOLDS_FIRST, ROLE(WATER_FLOW), 1, false, ANY_OVEN},
};

static bool
counts_for(const struct settings *settings, const struct channel_settings *channel,
    const struct need *need)
{
	const struct line_settings *line =
	    &settings->lines[settings->devices[channel->device].line];

	return (need->roles & MACHINE_ROLE(channel->role)) &&
	       (!need->rated || channel->rated_w > 0) &&
	       (need->oven != FIRST_OVEN || channel->oven == 0) &&
	       (need->oven != LAST_OVEN || channel->oven == line->oven_count - 1);
}

/* Whether a side of the line has it all. */
static bool
is_met(const struct settings *settings, uint32_t line, const struct need *need)
{
	int counts[SETTINGS_SIDES] = {0};

	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];

		if (settings->devices[channel->device].line != line ||
		    !counts_for(settings, channel, need))
			continue;
		for (int side = 0; side < SETTINGS_SIDES; side++)
			counts[side] += channel->side < 0 || channel->side == side;
	}
	return counts[0] >= need->least || counts[1] >= need->least;
}

/* The first need of the feature that a line does not meet; NULL when it meets all. */
static const struct need *
unmet(const struct settings *settings, uint32_t line, int feature)
{
	int first;

	settings_line_family(&settings->lines[line], feature, &first);
	for (size_t i = 0; i < sizeof needs / sizeof needs[0]; i++)
		if (needs[i].feature == first && !is_met(settings, line, &needs[i]))
			return &needs[i];
	return NULL;
}

static bool
is_limited(const struct settings *settings, int feature)
{
	for (size_t i = 0; i < settings->limit_count; i++)
		if (settings->limits[i].feature == feature)
			return true;
	return false;
}

/* Where a line with several ovens would need it. */
static const char *
oven_text(const struct settings *settings, const struct need *need)
{
	static const char *const texts[] = {
	    [ANY_OVEN] = "",
	    [FIRST_OVEN] = " in its first oven",
	    [LAST_OVEN] = " in its last oven",
	};

	for (size_t i = 0; i < settings->line_count; i++)
		if (settings->lines[i].oven_count > 1)
			return texts[need->oven];
	return "";
}

static void
tell_useless_limit(const struct notes *notes, int feature)
{
	const char *lack = notes_inside_lack(notes->settings, feature);
	const struct need *need = NULL;
	char roles[NOTE_ROLES];

	for (uint32_t line = 0; line < notes->settings->line_count; line++) {
		need = unmet(notes->settings, line, feature);
		if (need)
			continue;
		if (lack)
			note(notes, "limits %s: %s: they judge nothing",
			    feature_get(feature)->name, lack);
		return;
	}
	if (need)
		note(notes,
		    "limits %s: no line has %s of role %s%s%s: they judge nothing",
		    feature_get(feature)->name,
		    need->least > 1 ? "two channels" : "a channel",
		    note_roles(need->roles, roles),
		    need->rated ? " with 'rated_kw'" : "",
		    oven_text(notes->settings, need));
}

/* A recipe's limits where the machine does not tell its recipe. */
static void
tell_recipes(const struct notes *notes)
{
	static const struct need recipe = {.roles = ROLE(RECIPE), .least = 1};
	const struct settings *settings = notes->settings;
	bool limited = false;

	for (size_t i = 0; i < settings->limit_count; i++)
		limited |= settings->limits[i].recipe >= 0;
	for (uint32_t line = 0; limited && line < settings->line_count; line++)
		if (!is_met(settings, line, &recipe))
			note(notes,
			    "line %s has no channel of role recipe: limits for a "
			    "recipe count there only while 'evensoak context recipe' "
			    "says which one runs",
			    settings->lines[line].name);
}

/* --- all ---------------------------------------------------------------------------- */

void
notes_tell(const struct settings *settings,
    void (*take)(void *arg, const char *sentence), void *arg)
{
	const struct notes notes = {settings, take, arg};

	for (size_t i = 0; i < settings->device_count; i++)
		for (int table = TABLE_COIL; table <= TABLE_INPUT; table++)
			tell_addresses(
			    &notes, &settings->devices[i], (enum register_table)table);
	notes_bus_tell(&notes);
	notes_line_tell(&notes);
	notes_inside_tell(&notes);
	notes_material_tell(&notes);
	for (int feature = 0; feature < FEATURE_COUNT; feature++)
		if (is_limited(settings, feature))
			tell_useless_limit(&notes, feature);
	tell_recipes(&notes);
	if (settings->shift_count == 0)
		note(&notes, "there is no [shift]: reports are by day");
	if (settings->line_count == 0)
		note(&notes,
		    "there is no [line]: 'evensoak report' and 'evensoak shots' read a "
		    "store with this, by --from NAME; evensoakd has nothing to log and "
		    "refuses it");
	notes_store_tell(&notes);
}
