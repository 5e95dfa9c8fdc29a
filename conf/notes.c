/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/notes.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "conf/settings.h"
#include "conf/words.h"

struct notes {
	const struct settings *settings;
	void (*take)(void *arg, const char *sentence);
	void *arg;
};

static void __attribute__((format(printf, 2, 3)))
tell(const struct notes *notes, const char *format, ...)
{
	char sentence[512];
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(sentence, sizeof sentence, format, arguments);
	va_end(arguments);
	notes->take(notes->arg, sentence);
}

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
	tell(notes,
	    "channel %s.%s%s: address %d in table %s; a manual's %s %d is address 0 "
	    "here, counted as on the wire",
	    device->name, first->name, more, first->address, words_table.list[table],
	    table == TABLE_DISCRETE ? "input" : "register", bases[table]);
}

/* --- limits ------------------------------------------------------------------------- */

#define ROLE(name) (1U << ROLE_##name)

/* What a line must have for a feature; of several rows each.  A feature of a family
 * stands for all of it. */
static const struct need {
	int feature;
	unsigned roles; /* any of these */
	int least;      /* so many channels */
	bool rated;     /* with rated_kw */
} needs[] = {
    {FEATURE_SAG_S, ROLE(SAG_EYE), 1, false},
    {FEATURE_SOAK_WAIT_S, ROLE(SAG_EYE), 1, false},
    {FEATURE_EXIT_TOP_C, ROLE(SURFACE_TOP), 1, false},
    {FEATURE_EXIT_BOTTOM_C, ROLE(SURFACE_BOTTOM), 1, false},
    {FEATURE_EXIT_DIFFERENCE_DC, ROLE(SURFACE_TOP), 1, false},
    {FEATURE_EXIT_DIFFERENCE_DC, ROLE(SURFACE_BOTTOM), 1, false},
    {FEATURE_EXIT_SPREAD_TOP_DC, ROLE(SURFACE_TOP), 2, false},
    {FEATURE_EXIT_SPREAD_BOTTOM_DC, ROLE(SURFACE_BOTTOM), 2, false},
    {FEATURE_RATE_TOP, ROLE(SURFACE_TOP), 1, false},
    {FEATURE_RATE_BOTTOM, ROLE(SURFACE_BOTTOM), 1, false},
    {FEATURE_STACK_C, ROLE(STACK), 1, false},
    {FEATURE_ENERGY_KWH, ROLE(ZONE_TOP) | ROLE(ZONE_BOTTOM), 1, true},
    {FEATURE_ENERGY_TOP_KWH, ROLE(ZONE_TOP), 1, true},
    {FEATURE_ENERGY_BOTTOM_KWH, ROLE(ZONE_BOTTOM), 1, true},
    {FEATURE_METER_KWH, ROLE(ENERGY_METER), 1, false},
    {FEATURE_SATURATION_MAX, ROLE(ZONE_TOP) | ROLE(ZONE_BOTTOM), 1, false},
    {FEATURE_SATURATED_ZONES, ROLE(ZONE_TOP) | ROLE(ZONE_BOTTOM), 1, false},
    {FEATURE_TOOL_MEAN_C, ROLE(TOOL), 1, false},
    {FEATURE_TOOL_SPREAD_START_DC, ROLE(TOOL), 2, false},
    {FEATURE_TOOL_SPREAD_MEAN_DC, ROLE(TOOL), 2, false},
    {FEATURE_TOOL_SPREAD_P95_DC, ROLE(TOOL), 2, false},
    {FEATURE_TOOL_SPREAD_OF_MEANS_DC, ROLE(TOOL), 2, false},
    {FEATURE_TOOL_SWING_DC, ROLE(TOOL), 1, false},
    {FEATURE_TOOL_DRIFT_DC, ROLE(TOOL), 1, false},
    {FEATURE_WATER_SUPPLY_C, ROLE(WATER_SUPPLY), 1, false},
    {FEATURE_WATER_SUPPLY_C, ROLE(WATER_RETURN), 1, false},
    {FEATURE_WATER_RISE_DC, ROLE(WATER_RETURN), 1, false},
    {FEATURE_WATER_RISE_DC, ROLE(WATER_SUPPLY), 1, false},
    {FEATURE_WATER_RISE_FIRST, ROLE(WATER_SUPPLY), 1, false},
};

static bool
is_met(const struct settings *settings, uint32_t line, const struct need *need)
{
	int count = 0;

	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];
		count += settings->devices[channel->device].line == line &&
		         (need->roles & 1U << channel->role) &&
		         (!need->rated || channel->rated_w > 0);
	}
	return count >= need->least;
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

static void
tell_useless_limit(const struct notes *notes, int feature)
{
	const struct need *need = NULL;
	char roles[64] = "";

	for (uint32_t line = 0; line < notes->settings->line_count; line++) {
		need = unmet(notes->settings, line, feature);
		if (!need)
			return;
	}
	for (int role = 0; need && role < ROLE_COUNT; role++)
		if (need->roles & 1U << role)
			snprintf(roles + strlen(roles), sizeof roles - strlen(roles),
			    "%s%s", *roles ? " or " : "", role_text((enum role)role));
	if (need)
		tell(notes,
		    "limits %s: no line has %s of role %s%s: they judge nothing",
		    feature_get(feature)->name,
		    need->least > 1 ? "two channels" : "a channel", roles,
		    need->rated ? " with 'rated_kw'" : "");
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
			tell(notes,
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
	for (int feature = 0; feature < FEATURE_COUNT; feature++)
		if (is_limited(settings, feature))
			tell_useless_limit(&notes, feature);
	tell_recipes(&notes);
	if (settings->shift_count == 0)
		tell(&notes, "there is no [shift]: reports are by day");
	if (settings->store_count == 0)
		tell(&notes, "there is no [store]: shots are kept in the ledger alone");
}
