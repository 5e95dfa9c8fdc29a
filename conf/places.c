/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/places.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/draft.h"
#include "conf/machine.h"
#include "conf/role.h"
#include "conf/words.h"
#include "daemon/base/text.h"

enum { PLACE_TEXT = 2 * SETTINGS_NAME + 64 };

/* Who has which place on one line; position 0 of roles without.  What is common to both
 * sides holds the place on either, what is of no oven that in the first. */
struct places {
	struct part *holder[SETTINGS_SIDES][SETTINGS_STATIONS][ROLE_COUNT]
			   [SETTINGS_POSITIONS + 1];
	int highest[SETTINGS_SIDES][SETTINGS_STATIONS][ROLE_COUNT];
};

/* --- one channel ------------------------------------------------------------------ */

/* Whether it is known what the machine has. */
static bool
is_known(const struct part *line)
{
	return part_sound(line, "machine") && part_sound(line, "stations") &&
	       part_sound(line, "sides");
}

static void
check_role(struct draft *draft, struct part *part, const struct part *line)
{
	enum role role = part->as.channel.out.role, instead;

	if (!(machine_get(line->as.line.machine)->foreign & MACHINE_ROLE(role)))
		return;
	instead = machine_role_instead(role);
	part_refuse(draft, part, "role",
	    "'role' is '%s', which a machine that is '%s' does not have: write %s, %s, "
	    "or leave it out",
	    role_text(role), words_machine.list[line->as.line.machine],
	    role_text(instead), role_get(instead)->meaning);
}

/* The place of `word` in the list; a channel that names none of it is refused. */
static int
find_name(struct draft *draft, struct part *part, const char *setting, const char *word,
    const struct words *names)
{
	const char *near = text_nearest(word, names->list, names->count);
	int found = words_find(names, word);
	char list[WORDS_TEXT];

	if (found >= 0)
		return found;
	words_list(names, list);
	if (near)
		part_refuse(draft, part, setting, "'%s' is '%s': did you mean '%s'?",
		    setting, word, near);
	else
		part_refuse(draft, part, setting, "'%s' is '%s': write %s", setting,
		    word, list);
	return -1;
}

static void
check_oven(struct draft *draft, struct part *part, const struct part *line)
{
	struct channel_draft *channel = &part->as.channel;
	const char *ovens[SETTINGS_STATIONS];
	struct words names = {ovens, 0};
	char list[WORDS_TEXT];
	int oven;

	for (int i = 0; i < line->as.line.station_count; i++)
		if (line->as.line.stations[i].kind == STATION_OVEN)
			ovens[names.count++] = line->as.line.stations[i].name;
	if (part_has(part, "station")) {
		oven = find_name(draft, part, "station", channel->station, &names);
		channel->out.oven = oven < 0 ? 0 : oven;
		return;
	}
	if (names.count < 2)
		return;
	words_list(&names, list);
	part_refuse(draft, part, NULL,
	    "'station' is missing in %s: %s has %zu ovens, write station = %s",
	    part->source->title, line->source->title, names.count, list);
}

static void
check_side(struct draft *draft, struct part *part, const struct part *line)
{
	struct channel_draft *channel = &part->as.channel;
	const struct line_settings *settings = &line->as.line;
	const char *const sides[] = {settings->sides[0], settings->sides[1]};
	const struct words names = {sides, SETTINGS_SIDES};

	if (settings->side_count == 1 && part_has(part, "side"))
		part_refuse(draft, part, "side",
		    "'side' is '%s', but %s has no sides: leave it out", channel->side,
		    line->source->title);
	else if (part_has(part, "side"))
		channel->out.side =
		    find_name(draft, part, "side", channel->side, &names);
	else if (settings->side_count > 1 && part_sound(part, "role") &&
		 machine_role_is_sided(channel->out.role))
		part_refuse(draft, part, NULL,
		    "'side' is missing in %s: each side of %s has its own %s, write "
		    "side = %s or %s",
		    part->source->title, line->source->title,
		    role_text(channel->out.role), sides[0], sides[1]);
}

void
places_check_channel(struct draft *draft, struct part *part)
{
	const struct part *line = part->parent ? part->parent->parent : NULL;
	struct channel_draft *channel = &part->as.channel;

	channel->out.side = -1;
	if (!line || !is_known(line))
		return;
	if (part_sound(part, "role")) {
		check_role(draft, part, line);
		if (role_get(channel->out.role)->oven && part_sound(part, "station"))
			check_oven(draft, part, line);
	}
	if (part_sound(part, "side"))
		check_side(draft, part, line);
}

/* --- all channels of a line ------------------------------------------------------- */

/* Whether its line has several ovens, and it is of one of them. */
static bool
has_oven(const struct part *part)
{
	return part->parent->parent->as.line.oven_count > 1 &&
	       role_get(part->as.channel.out.role)->oven;
}

/* "surface_top 3 in oven-b", "oven_in on side left", "rotating". */
static void
place_text(const struct part *part, int position, char text[static PLACE_TEXT])
{
	const struct channel_settings *channel = &part->as.channel.out;
	const struct line_settings *line = &part->parent->parent->as.line;
	char number[16] = "", in[SETTINGS_NAME + 8] = "", on[SETTINGS_NAME + 16] = "";

	if (position > 0)
		snprintf(number, sizeof number, " %d", position);
	if (has_oven(part)) /* the ovens stand behind the one load station */
		snprintf(
		    in, sizeof in, " in %s", line->stations[1 + channel->oven].name);
	if (channel->side >= 0)
		snprintf(on, sizeof on, " on side %s", line->sides[channel->side]);
	snprintf(
	    text, PLACE_TEXT, "%s%s%s%s", role_text(channel->role), number, in, on);
}

static void
refuse_place(
    struct draft *draft, struct part *part, const struct part *holder, int position)
{
	const char *settings[4] = {"role"};
	struct words mend = {settings, 1};
	char text[PLACE_TEXT], list[WORDS_TEXT];

	if (has_oven(part))
		settings[mend.count++] = "station";
	if (part->parent->parent->as.line.side_count > 1)
		settings[mend.count++] = "side";
	if (position > 0)
		settings[mend.count++] = "position";
	words_list(&mend, list);
	place_text(part, position, text);
	part_refuse(draft, part, part_has(part, "position") ? "position" : "role",
	    "%s is %s of %s, as %s in line %d is: mend the %s of one of them",
	    part->source->title, text, part->parent->parent->source->title,
	    holder->source->title, holder->source->line, list);
}

/* False when one of its places on that side is taken, which is noted. */
static bool
take_side(struct draft *draft, struct places *places, struct part *part, int side)
{
	const struct channel_draft *channel = &part->as.channel;
	int oven = channel->out.oven;
	enum role role = channel->out.role;

	for (int i = 0; i < channel->count; i++) {
		int position = channel->out.position + (channel->out.position ? i : 0);
		struct part **holder = &places->holder[side][oven][role][position];

		if (*holder) {
			refuse_place(draft, part, *holder, position);
			return false;
		}
		*holder = part;
		if (position > places->highest[side][oven][role])
			places->highest[side][oven][role] = position;
	}
	return true;
}

static void
take_places(struct draft *draft, struct places *places, struct part *part)
{
	int side = part->as.channel.out.side;
	int count = part->parent->parent->as.line.side_count;

	if (side >= 0) {
		take_side(draft, places, part, side);
		return;
	}
	for (side = 0; side < count; side++)
		if (!take_side(draft, places, part, side))
			return;
}

/* Of one role on one side, in one oven. */
static void
check_gaps(struct draft *draft, struct part *const *holder, int highest)
{
	for (int position = highest; position > 1; position--) {
		struct part *part = holder[position];
		char text[PLACE_TEXT];

		if (!part || part->bad || holder[position - 1])
			continue;
		place_text(part, position, text);
		part_refuse(draft, part, "position",
		    "%s has %s but none at %d: number the positions from 1 without a "
		    "gap",
		    part->parent->parent->source->title, text, position - 1);
	}
}

static void
check_all_gaps(struct draft *draft, const struct places *places)
{
	for (int side = 0; side < SETTINGS_SIDES; side++)
		for (int oven = 0; oven < SETTINGS_STATIONS; oven++)
			for (int role = 0; role < ROLE_COUNT; role++)
				if (role_get((enum role)role)->gapless)
					check_gaps(draft,
					    places->holder[side][oven][role],
					    places->highest[side][oven][role]);
}

/* Notes that a side has no channel of any of the roles. */
static void
refuse_missing(struct draft *draft, struct part *line, uint32_t roles, int side)
{
	const struct line_settings *settings = &line->as.line;
	const char *between = "";
	struct text names, write;

	text_init(&names, 256);
	text_init(&write, 768);
	for (int i = 0; i < ROLE_COUNT; i++) {
		enum role role = (enum role)i;

		if (!(roles & MACHINE_ROLE(role)))
			continue;
		text_printf(&names, "%s%s", between, role_text(role));
		text_printf(&write, "%s%sa [channel DEVICE.%s] for %s",
		    *between ? "," : "", between, role_text(role),
		    role_get(role)->meaning);
		between = " or ";
	}
	part_refuse(draft, line, NULL, "%s has no channel of role %s%s%s: write %s",
	    line->source->title, names.bytes ? names.bytes : "",
	    settings->side_count > 1 ? " for side " : "",
	    settings->side_count > 1 ? settings->sides[side] : "",
	    write.bytes ? write.bytes : "");
	text_release(&names);
	text_release(&write);
}

static bool
has_any(const struct places *places, uint32_t roles, int side)
{
	for (int role = 0; role < ROLE_COUNT; role++)
		if (roles & MACHINE_ROLE(role) && places->holder[side][0][role][0])
			return true;
	return false;
}

static void
check_needs(struct draft *draft, struct part *line, const struct places *places)
{
	const struct machine_traits *traits = machine_get(line->as.line.machine);

	for (int side = 0; side < line->as.line.side_count; side++)
		for (int i = 0; i < MACHINE_NEEDS; i++)
			if (!has_any(places, traits->needs[i], side))
				refuse_missing(draft, line, traits->needs[i], side);
}

/* The most that any side has: of what is of an oven, in the last one. */
static int
most(const struct line_settings *line, const struct places *places, enum role role)
{
	int oven = role_get(role)->oven ? line->oven_count - 1 : 0;
	int count = 0;

	for (int side = 0; side < line->side_count; side++)
		if (places->highest[side][oven][role] > count)
			count = places->highest[side][oven][role];
	return count;
}

static void
count_places(struct line_settings *line, const struct places *places)
{
	line->surfaces_top = most(line, places, ROLE_SURFACE_TOP);
	line->surfaces_bottom = most(line, places, ROLE_SURFACE_BOTTOM);
	line->zones_top = most(line, places, ROLE_ZONE_TOP);
	line->zones_bottom = most(line, places, ROLE_ZONE_BOTTOM);
	line->tools = most(line, places, ROLE_TOOL);
	line->circuits = most(line, places, ROLE_WATER_RETURN);
}

bool
places_check_line(struct draft *draft, struct part *line, bool whole)
{
	struct places *places;
	struct part *part = NULL;

	if (!is_known(line))
		return false;
	places = calloc(1, sizeof *places);
	if (!places) {
		mistakes_add(&draft->mistakes, 0, "cannot be read: out of memory");
		return false;
	}
	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL)
		if (!part->bad && part->parent->parent == line &&
		    part->as.channel.out.role != ROLE_OTHER)
			take_places(draft, places, part);
	if (whole) {
		check_all_gaps(draft, places);
		check_needs(draft, line, places);
		count_places(&line->as.line, places);
	}
	free(places);
	return whole;
}
