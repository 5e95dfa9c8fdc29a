/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/notes.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "conf/machine.h"
#include "conf/settings.h"
#include "conf/words.h"

enum { SIDE_TEXT = SETTINGS_NAME + 16, ROLES_TEXT = 64 };

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

/* "zone_top or zone_bottom". */
static const char *
roles_text(uint32_t roles, char text[static ROLES_TEXT])
{
	text[0] = '\0';
	for (int role = 0; role < ROLE_COUNT; role++)
		if (roles & MACHINE_ROLE(role))
			snprintf(text + strlen(text), ROLES_TEXT - strlen(text), "%s%s",
			    *text ? " or " : "", role_text((enum role)role));
	return text;
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

#define ROLE(name) MACHINE_ROLE(ROLE_##name)

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
	const struct need *need = NULL;
	char roles[ROLES_TEXT];

	for (uint32_t line = 0; line < notes->settings->line_count; line++) {
		need = unmet(notes->settings, line, feature);
		if (!need)
			return;
	}
	if (need)
		tell(notes,
		    "limits %s: no line has %s of role %s%s%s: they judge nothing",
		    feature_get(feature)->name,
		    need->least > 1 ? "two channels" : "a channel",
		    roles_text(need->roles, roles),
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
			tell(notes,
			    "line %s has no channel of role recipe: limits for a "
			    "recipe count there only while 'evensoak context recipe' "
			    "says which one runs",
			    settings->lines[line].name);
}

/* --- how sheets are followed --------------------------------------------------------- */

/* The channel of one of the roles on a side of a line (its own, or common to both);
 * NULL when there is none. */
static const struct channel_settings *
channel_of(const struct settings *settings, uint32_t line, int side, uint32_t roles)
{
	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];

		if (settings->devices[channel->device].line == line &&
		    (roles & MACHINE_ROLE(channel->role)) &&
		    (channel->side < 0 || channel->side == side))
			return channel;
	}
	return NULL;
}

/* " on side left", or "" where a line has but one. */
static const char *
side_text(const struct line_settings *line, int side, char text[static SIDE_TEXT])
{
	text[0] = '\0';
	if (line->side_count > 1)
		snprintf(text, SIDE_TEXT, " on side %s", line->sides[side]);
	return text;
}

/* Without a sign of an empty frame nobody knows whether the sheet in it is a new one. */
static void
tell_returns(const struct notes *notes, uint32_t line, int side)
{
	const struct line_settings *settings = &notes->settings->lines[line];
	uint32_t roles = machine_get(settings->machine)->returns;
	char list[ROLES_TEXT], on_side[SIDE_TEXT];

	if (channel_of(notes->settings, line, side, roles))
		return;
	tell(notes,
	    "line %s has no channel of role %s%s: an empty frame counts as a sheet, "
	    "and "
	    "a sheet that is heated again as a new one",
	    settings->name, roles_text(roles, list),
	    side_text(settings, side, on_side));
}

/* Edges of one sheet that come from several devices. */
static void
tell_devices(const struct notes *notes, uint32_t line, int side)
{
	const struct settings *settings = notes->settings;
	uint32_t moves = machine_get(settings->lines[line].machine)->moves;
	const struct channel_settings *first = NULL;
	char on_side[SIDE_TEXT];

	for (int role = 0; role < ROLE_COUNT; role++) {
		const struct channel_settings *channel =
		    channel_of(settings, line, side, moves & MACHINE_ROLE(role));

		if (!first)
			first = channel;
		if (!channel || channel->device == first->device)
			continue;
		tell(notes,
		    "line %s reads %s and %s from different devices%s: which came "
		    "first "
		    "is known to a poll of both alone; read them from one device when "
		    "it has them",
		    settings->lines[line].name, role_text(first->role),
		    role_text(channel->role),
		    side_text(&settings->lines[line], side, on_side));
		return;
	}
}

/* How the indexes of a ring are seen. */
static void
tell_indexes(const struct notes *notes, uint32_t line)
{
	const struct settings *settings = notes->settings;
	const char *name = settings->lines[line].name;
	const struct channel_settings *rotating =
	    channel_of(settings, line, 0, MACHINE_ROLE(ROLE_ROTATING));

	if (settings->lines[line].machine != MACHINE_ROTARY)
		return;
	if (!rotating)
		tell(notes,
		    "line %s has no channel of role rotating: the time in which the "
		    "frames move on counts as heat",
		    name);
	else if (!channel_of(settings, line, 0, MACHINE_ROLE(ROLE_CYCLE_COUNT)))
		tell(notes,
		    "line %s has no channel of role cycle_count: an index between two "
		    "polls goes unseen%s",
		    name,
		    rotating->debounce_s > 0
			? ""
			: ", and a stop in the middle of one counts as two; where the "
			  "frames stop on the way, write 'debounce_ms' for rotating");
}

static void
tell_lines(const struct notes *notes)
{
	for (uint32_t line = 0; line < notes->settings->line_count; line++) {
		tell_indexes(notes, line);
		for (int side = 0; side < notes->settings->lines[line].side_count;
		     side++) {
			tell_returns(notes, line, side);
			tell_devices(notes, line, side);
		}
	}
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
	tell_lines(&notes);
	for (int feature = 0; feature < FEATURE_COUNT; feature++)
		if (is_limited(settings, feature))
			tell_useless_limit(&notes, feature);
	tell_recipes(&notes);
	if (settings->shift_count == 0)
		tell(&notes, "there is no [shift]: reports are by day");
	if (settings->store_count == 0)
		tell(&notes, "there is no [store]: shots are kept in the ledger alone");
}
