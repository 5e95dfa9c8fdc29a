/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/line.h"

#include <math.h>
#include <string.h>

#include "conf/draft.h"
#include "conf/machine.h"
#include "conf/pace.h"
#include "conf/words.h"

/* The shortest heat has so many polls at least: fewer without an answer are no silence. */
enum { HEAT_POLLS = 4 };

static const char *
machine_word(const struct part *line)
{
	return words_machine.list[line->as.line.machine];
}

/* --- stations and sides ----------------------------------------------------------- */

static int
count_stations(const struct line_settings *line, enum station_kind kind)
{
	int count = 0;

	for (int i = 0; i < line->station_count; i++)
		count += line->stations[i].kind == kind;
	return count;
}

/* Whether they are all of the machine's, each after those before it. */
static bool
are_stations(const struct line_settings *line, const struct machine_traits *traits)
{
	for (int i = 1; i < line->station_count; i++)
		if (line->stations[i].kind < line->stations[i - 1].kind)
			return false;
	return count_stations(line, STATION_LOAD) == 1 && line->oven_count >= 1 &&
	       line->oven_count <= traits->ovens &&
	       count_stations(line, STATION_FORM) == 1 &&
	       count_stations(line, STATION_UNLOAD) <= traits->unloads;
}

/* A station with the name of one before it; NULL when all differ. */
static const char *
name_taken_twice(const struct line_settings *line)
{
	for (int i = 1; i < line->station_count; i++)
		for (int j = 0; j < i; j++)
			if (strcmp(line->stations[i].name, line->stations[j].name) == 0)
				return line->stations[i].name;
	return NULL;
}

static void
check_stations(struct draft *draft, struct part *part)
{
	const struct line_settings *line = &part->as.line;
	const struct machine_traits *traits = machine_get(line->machine);
	const char *text, *twice;

	if (!part_sound(part, "stations"))
		return;
	text = section_entry(part->source, "stations")->value;
	twice = name_taken_twice(line);
	if (count_stations(line, STATION_LOAD) > 1 ||
	    count_stations(line, STATION_FORM) > 1)
		part_refuse(draft, part, "stations",
		    "'stations' is '%s', more than one to load or form: %s", text,
		    traits->doubles);
	else if (!are_stations(line, traits))
		part_refuse(draft, part, "stations",
		    "'stations' is '%s', but a machine that is '%s' has %s: write them "
		    "in this "
		    "order",
		    text, machine_word(part), traits->stations);
	else if (twice)
		part_refuse(draft, part, "stations",
		    "'stations' is '%s': write '%s' once, and tell others apart by a "
		    "label, as in oven-a, oven-b",
		    text, twice);
}

static void
check_sides(struct draft *draft, struct part *part)
{
	if (!part_has(part, "sides") || !part_sound(part, "sides") ||
	    part->as.line.side_count <= machine_get(part->as.line.machine)->sides)
		return;
	part_refuse(draft, part, "sides",
	    "'sides' is for a shuttle with two frames, but 'machine' is '%s': leave it "
	    "out",
	    machine_word(part));
}

/* --- times ------------------------------------------------------------------------ */

static void
check_recipes(struct draft *draft, const struct part *part)
{
	struct part *recipe = NULL;

	while ((recipe = draft_next(draft, SECTION_RECIPE, recipe)) != NULL)
		if (part_sound(part, "heat_min_s") &&
		    part_sound(recipe, "heat_timer_s") &&
		    recipe->as.recipe.heat_max_s <= part->as.line.heat_min_s)
			part_refuse(draft, recipe, "heat_timer_s",
			    "'heat_timer_s' must be above 'heat_min_s' of %s: mend one "
			    "of them",
			    part->source->title);
}

/* What tells how the sheets move must be polled so often that no heat goes by unseen. */
static void
check_period(struct draft *draft, const struct part *line, struct part *channel)
{
	double heat_min_s = line->as.line.heat_min_s;
	double most_ms = fmax(floor(heat_min_s * 1000 / HEAT_POLLS), LINE_PERIOD_MS);
	struct part *teller;

	if (channel->parent->parent != line || !part_sound(channel, "role") ||
	    !(machine_get(line->as.line.machine)->needs[0] &
		MACHINE_ROLE(channel->as.channel.out.role)) ||
	    !(pace_period_s(channel) > most_ms * 0.001))
		return;
	teller = pace_teller(channel);
	if (!part_has(teller, "period_ms"))
		return; /* at_heat, which is refused for itself */
	part_refuse(draft, teller, "period_ms",
	    "'period_ms' is '%s', but %s tells how the sheets of %s move, where a stay "
	    "of %g s is a heat ('heat_min_s') and would go by unseen: write %.0f or "
	    "less, 500 as a rule",
	    section_entry(teller->source, "period_ms")->value, channel->source->title,
	    line->source->title, heat_min_s, most_ms);
}

static void
check_periods(struct draft *draft, const struct part *line)
{
	struct part *channel = NULL;

	while ((channel = draft_next(draft, SECTION_CHANNEL, channel)) != NULL)
		if (channel->parent)
			check_period(draft, line, channel);
}

void
line_check(struct draft *draft, struct part *part)
{
	const struct line_settings *line = &part->as.line;

	if (part_sound(part, "machine")) {
		check_stations(draft, part);
		check_sides(draft, part);
	}
	part_check_order(draft, part, "heat_min_s", line->heat_min_s, "heat_timer_s",
	    line->heat_max_s);
	part_check_order(draft, part, "rate_from_s", line->rate_from_s, "rate_to_s",
	    line->rate_to_s);
	check_recipes(draft, part);
	if (part_sound(part, "machine") && part_sound(part, "heat_min_s"))
		check_periods(draft, part);
}
