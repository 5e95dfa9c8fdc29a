/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/inside.h"

#include <stddef.h>
#include <stdint.h>

#include "conf/draft.h"
#include "conf/machine.h"

struct found {
	const struct part *channel; /* the first of the line; NULL: none */
	bool whole;                 /* the role and line of every channel are known */
};

static struct found
find_role(const struct draft *draft, const struct part *line, uint32_t roles)
{
	const struct part *channel = NULL;
	struct found found = {.whole = true};

	while ((channel = draft_next(draft, SECTION_CHANNEL, channel)) != NULL) {
		if (!channel->parent || !channel->parent->parent ||
		    !part_sound(channel, "role"))
			found.whole = false;
		else if (!found.channel && channel->parent->parent == line &&
			 (roles & MACHINE_ROLE(channel->as.channel.out.role)))
			found.channel = channel;
	}
	return found;
}

static void
check_view(struct draft *draft, struct part *line)
{
	struct found surface = find_role(draft, line,
	    MACHINE_ROLE(ROLE_SURFACE_TOP) | MACHINE_ROLE(ROLE_SURFACE_BOTTOM));

	if (part_has(line, "pyrometers") && part_sound(line, "pyrometers") &&
	    line->as.line.view == VIEW_EXIT && !surface.channel && surface.whole)
		part_refuse(draft, line, "pyrometers",
		    "'pyrometers' is 'exit', but %s has no channel of role surface_top "
		    "or surface_bottom: write their channels, or leave it out",
		    line->source->title);
}

static void
check_air(struct draft *draft, struct part *line)
{
	struct found air = find_role(draft, line, MACHINE_ROLE(ROLE_OVEN_AIR));
	bool has = part_has(line, "oven_air_w_per_m2k");

	if (air.channel && !has)
		part_refuse(draft, line, NULL,
		    "'oven_air_w_per_m2k' is missing in %s, which has %s: write how "
		    "much heat goes from that air to the sheet, or let the channel be "
		    "of role other",
		    line->source->title, air.channel->source->title);
	else if (!air.channel && air.whole && has)
		part_refuse(draft, line, "oven_air_w_per_m2k",
		    "'oven_air_w_per_m2k' is of a convection oven, but %s has no "
		    "channel of role oven_air: write that, or leave it out",
		    line->source->title);
}

void
inside_check_line(struct draft *draft, struct part *line)
{
	check_view(draft, line);
	check_air(draft, line);
}

void
inside_check_recipe(struct draft *draft, struct part *recipe)
{
	static const char *const sizes[] = {"sheet_length", "sheet_width"};

	for (int i = 0; i < 2; i++)
		if (part_has(recipe, sizes[i]) && !part_has(recipe, sizes[1 - i]))
			part_refuse(draft, recipe, sizes[i],
			    "'%s' stands without '%s': write both or neither", sizes[i],
			    sizes[1 - i]);
}
