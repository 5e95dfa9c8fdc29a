/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the set points of each heat were: some are read only as it begins. */
#include "conf/settings.h"
#include "daemon/shot/lane_inside.h"
#include "daemon/shot/tracker.h"

static void
tell_set_points(struct lane *lane, const struct set_points_told *told)
{
	if (told->text[0] != '\0')
		lane_tell(lane, told->wall, "set_points", told->text);
}

/* Gives the sheet what is told of the heat that it went into the first oven for. */
static void
mark_set_points(struct sheet *sheet, const struct set_points_told *told)
{
	for (int i = 0; i < sheet->stay_count; i++)
		if (sheet->stays[i].oven == 0 &&
		    sheet->stays[i].in.at.ns == told->began.ns)
			sheet->set_points = told->hash;
}

static void
put_set_points(struct lane *lane, const struct set_points_told *told)
{
	struct stations *stations = &lane->stations;

	for (int s = 0; s < stations->count; s++)
		if (!stations->at[s].filed)
			mark_set_points(&stations->at[s], told);
	tell_set_points(lane, told);
	lane->moved = true;
}

void
lane_look_at_set_points(struct lane *lane, struct mono now)
{
	struct set_points_told told;

	if (set_points_look(lane->set_points, now, &told))
		put_set_points(lane, &told);
}

uint64_t
lane_set_points(struct lane *lane, const struct edge *edge, int recipe)
{
	struct set_points_told told = {.hash = 0};

	if (set_points_begin(lane->set_points, edge, recipe, &told))
		tell_set_points(lane, &told);
	if (lane->sink->heat != NULL)
		lane->sink->heat(lane->sink->arg);
	return told.hash;
}
