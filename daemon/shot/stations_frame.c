/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A frame of its own, which carries one sheet from station to station. */
#include "daemon/shot/stations_inside.h"

#include "daemon/shot/shot.h"

static void
move(struct stations *stations, int from, int to)
{
	stations->at[to] = stations->at[from];
	stations->at[from].filed = true;
}

void
stations_clamp_closes(struct stations *stations, const struct edge *edge)
{
	int oven = stations->first_oven, form = stations->form;

	/* Between two polls the clamp was open: what was there is off. */
	if (!stations->at[form].filed && !stations->at[form].form_end.known &&
	    !stations->at[form].empty)
		stations->at[form].flags |= SHOT_FLAG_SEQUENCE;
	if (!stations->at[oven].filed) {
		stations->at[oven].flags |= SHOT_FLAG_SEQUENCE;
		stations->at[oven].unseen = true;
	}
	stations_leave_form(stations);
	stations_leave_at(stations, form, edge);
	stations_leave_at(stations, oven, edge);
	stations_await(stations, edge->at);
	stations_loaded(stations, edge);
}

void
stations_clamp_opens(struct stations *stations, const struct edge *edge)
{
	struct sheet *oven = &stations->at[stations->first_oven];
	struct sheet *form = &stations->at[stations->form];

	if (!stations->at[0].silent)
		stations->at[0].filed =
		    true; /* clamped and let go: nothing was heated */
	stations->at[0].unseen = true;
	stations->at[0].flags |= SHOT_FLAG_GAP;
	stations_leave_at(stations, 0, edge);
	if (!oven->filed) {
		struct stay *stay = sheet_stay(oven);

		if (stay != NULL)
			stay->out = *edge;
		oven->gone = true;
		stations_leave_at(stations, stations->first_oven, edge);
	}
	/* Taken off by hand right now: it did not get lost. */
	if (form->gone && edge->before.ns - stations->emptied.at.ns < CLOCK_SECOND_NS)
		form->gone = false;
	stations_leave_form(stations);
	stations_leave_at(stations, stations->form, edge);
}

void
stations_frame_empties(struct stations *stations, const struct edge *edge)
{
	for (int s = stations->first_oven; s <= stations->form; s++) {
		struct sheet *sheet = &stations->at[s];

		if (!sheet->filed && !sheet->form_start.known)
			sheet->gone = true;
	}
	stations->emptied = *edge;
}

void
stations_oven_takes(struct stations *stations, const struct edge *edge,
    const struct intake *intake, bool empty, bool held)
{
	int oven = stations->first_oven, form = stations->form;
	bool again = !stations->at[form].filed && held && !stations->at[form].gone;

	if (!stations->at[0].filed) {
		stations_leave_form(stations);
		stations_leave_at(stations, form, edge);
		move(stations, 0, oven);
		stations->at[oven].silent = false;
	} else if (again && !stations->at[form].form_start.known) {
		move(stations, form, oven);
		/* Somebody may have taken it off and put in another. */
		stations->at[oven].unseen |= stations->at[oven].silent;
	} else {
		stations_leave_form(stations);
		stations_leave_at(stations, form, edge);
		stations->at[oven] = sheet_at(edge->before);
		stations->at[oven].number = ++stations->numbers;
		/* The part never came out of the frame: what goes in now? */
		stations->at[oven].unseen = again;
		stations->at[oven].flags = again ? SHOT_FLAG_SEQUENCE : 0;
	}
	if (stations->at[oven].stay_count == 0)
		stations->at[oven].empty = empty;
	stations_enter_oven(stations, oven, edge, intake);
	stations_note_move(stations, edge);
}

void
stations_oven_gives(struct stations *stations, const struct edge *edge)
{
	struct sheet *oven = &stations->at[stations->first_oven];
	struct stay *stay = sheet_stay(oven);

	if (oven->filed)
		return;
	if (stay != NULL)
		stay->out = *edge;
	move(stations, stations->first_oven, stations->form);
	stations_arrive_at_form(stations, edge);
}
