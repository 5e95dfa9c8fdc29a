/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Frames that move on together. */
#include "daemon/shot/stations_inside.h"

/* What waits there for its first heat has a number; what was found in the machine, as
 * nobody knew what stood there, has none. */
bool
stations_came_round(const struct stations *stations)
{
	const struct sheet *load = &stations->at[0];

	return !load->filed && (load->stay_count > 0 || load->number == 0);
}

void
stations_index_starts(struct stations *stations, const struct edge *edge,
    bool load_empty, bool form_empty)
{
	struct sheet *load = &stations->at[0];
	struct sheet *form = &stations->at[stations->form];

	/* What came round unformed and is off by now made room for another. */
	if (load_empty)
		stations_load_clear(stations, edge_time(edge), edge->wall);
	if (!stations_came_round(stations))
		load->empty = load_empty;
	stations_loaded(stations, edge);
	if (!form->form_start.known && form_empty)
		form->gone = true;
	for (int s = stations->first_oven; s <= stations->last_oven; s++) {
		struct stay *stay = sheet_stay(&stations->at[s]);

		if (stay != NULL)
			stay->out = *edge;
	}
}

/* Whether it may go round again: not made into a part, and somebody would see it taken
 * off. */
static bool
may_go_round(const struct sheet *sheet, bool eye)
{
	return eye && !sheet->filed && !sheet->form_start.known && !sheet->gone &&
	       !sheet->empty;
}

void
stations_index_done(struct stations *stations, const struct edge *edge,
    const struct intake *intake, bool eye)
{
	int last = stations->count - 1;

	stations_leave_form(stations);
	if (!may_go_round(&stations->at[stations->form], eye))
		stations_leave_at(stations, stations->form, edge);
	struct sheet round = stations->at[last];
	for (int s = last; s > 0; s--)
		stations->at[s] = stations->at[s - 1];
	if (round.filed)
		stations_await(stations, edge->at);
	else
		stations->at[0] = round;
	for (int s = stations->first_oven; s <= stations->last_oven; s++)
		stations_enter_oven(stations, s, edge, intake);
	stations_arrive_at_form(stations, edge);
	stations_note_move(stations, edge);
}

void
stations_load_clear(struct stations *stations, struct mono at, struct wall wall)
{
	if (!stations_came_round(stations))
		return;
	stations_leave(stations, 0, at, wall);
	stations_await(stations, at);
}
