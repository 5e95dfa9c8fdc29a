/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/stations.h"

#include <assert.h>
#include <math.h>

#include "conf/settings.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/stations_inside.h"

_Static_assert(
    (int)STATIONS_MAX == (int)SETTINGS_STATIONS, "a place for every station");

void
stations_init(struct stations *stations, const struct line_settings *line)
{
	*stations = (struct stations){.line = line,
	    .count = line->station_count,
	    .first_oven = -1,
	    .step_s = NAN,
	    .stranger = SHOT_FLAG_SEQUENCE};
	for (int s = 0; s < stations->count; s++) {
		stations->at[s] = sheet_at((struct mono){0});
		stations->at[s].filed = true;
		if (line->stations[s].kind == STATION_FORM)
			stations->form = s;
		if (line->stations[s].kind != STATION_OVEN)
			continue;
		stations->last_oven = s;
		if (stations->first_oven < 0)
			stations->first_oven = s;
	}
}

void
stations_find(struct stations *stations, int station, struct mono now, uint32_t flags)
{
	stations->at[station] = sheet_at(now);
	stations->at[station].unseen = true;
	stations->at[station].flags = flags;
}

void
stations_await(struct stations *stations, struct mono now)
{
	stations->at[0] = sheet_at(now);
	stations->at[0].number = ++stations->numbers;
}

static bool
is_working(const struct stations *stations, int station)
{
	return station >= stations->first_oven && station <= stations->form;
}

void
stations_flag_working(struct stations *stations, uint32_t flags)
{
	for (int s = 0; s < stations->count; s++)
		if (is_working(stations, s))
			stations->at[s].flags |= flags;
}

void
stations_flag_all(struct stations *stations, uint32_t flags)
{
	for (int s = 0; s < stations->count; s++)
		stations->at[s].flags |= flags;
}

void
stations_silence(struct stations *stations)
{
	stations_flag_working(stations, SHOT_FLAG_GAP);
	/* One in an oven cannot have been formed: not without an edge in the silence. */
	stations->at[stations->form].silent = true;
	/* A frame of its own may have been in the oven and out again. */
	if (stations->line->machine != MACHINE_ROTARY)
		stations->at[0].silent = stations->at[0].loaded.known;
	/* What came round unformed may have been taken off, and another put in. */
	else if (stations_came_round(stations)) {
		stations->at[0].unseen = true;
		stations->at[0].flags |= SHOT_FLAG_GAP;
	}
}

void
stations_platens_unwatched(struct stations *stations)
{
	stations->at[stations->form].silent = true;
	stations->at[stations->form].flags |= SHOT_FLAG_GAP;
}

void
stations_taking_off_unwatched(struct stations *stations)
{
	if (stations->line->machine != MACHINE_ROTARY) {
		stations_platens_unwatched(stations);
	} else if (stations_came_round(stations)) {
		stations->at[0].unseen = true;
		stations->at[0].flags |= SHOT_FLAG_GAP;
	}
}

bool
stations_formed(const struct stations *stations)
{
	const struct sheet *form = &stations->at[stations->form];

	return !form->filed && form->stay_count > 0 && form->form_end.known;
}

void
stations_give_up(struct stations *stations, struct mono at, struct wall wall)
{
	bool formed = stations_formed(stations);

	for (int s = 0; s < stations->count; s++) {
		struct sheet *sheet = &stations->at[s];

		if (sheet->filed || sheet->stay_count == 0 ||
		    (s > 0 && s <= stations->form && !(s == stations->form && formed)))
			continue;
		sheet->flags |= SHOT_FLAG_GAP;
		sheet->unseen |= s != stations->form;
		stations_leave(stations, s, at, wall);
	}
}

void
stations_lose(struct stations *stations)
{
	for (int s = 0; s < stations->count; s++)
		stations->at[s].unseen = true;
}

/* Each sheet in an oven stayed there too long, from when it came in or from when the
 * fault began. */
void
stations_fault(
    struct stations *stations, const struct edge *from, const struct edge *to)
{
	for (int s = stations->first_oven; s <= stations->last_oven; s++) {
		struct stay *stay = sheet_stay(&stations->at[s]);

		if (stay == NULL)
			continue;
		double in_oven_s = edge_span_s(&stay->in, to);
		double fault_s = edge_span_s(from, to);
		if (in_oven_s > 0.0 && fault_s > 0.0)
			stations->at[s].fault_s += fmin(in_oven_s, fault_s);
	}
}

/* --- everywhere ---------------------------------------------------------------------- */

/* Nothing can happen to it any more; its place is nobody's. */
void
stations_leave(struct stations *stations, int station, struct mono at, struct wall wall)
{
	struct sheet *sheet = &stations->at[station];

	if (sheet->filed)
		return;
	assert(stations->leaving_count < STATIONS_MAX);
	sheet->left = at;
	sheet->left_wall = wall;
	stations->leaving[stations->leaving_count++] = *sheet;
	sheet->filed = true;
}

void
stations_leave_at(struct stations *stations, int station, const struct edge *edge)
{
	stations_leave(stations, station, edge_time(edge), edge->wall);
}

void
stations_loaded(struct stations *stations, const struct edge *edge)
{
	if (!stations->at[0].loaded.known)
		stations->at[0].loaded = *edge;
}

/* At that moment. */
static bool
was_in_last_oven(
    const struct stations *stations, const struct sheet *sheet, struct mono at)
{
	const struct stay *stay;

	if (sheet->stay_count == 0)
		return false;
	stay = &sheet->stays[sheet->stay_count - 1];
	return stay->oven == stations->last_oven - stations->first_oven &&
	       at.ns >= edge_time(&stay->in).ns &&
	       (!stay->out.known || at.ns <= edge_time(&stay->out).ns);
}

/* The sheet that was in the last oven at that moment; NULL when none was.  It may have
 * left since. */
static struct sheet *
seen_by_eye(struct stations *stations, const struct edge *edge)
{
	for (int s = stations->last_oven; s < stations->count; s++) {
		struct sheet *sheet = &stations->at[s];

		if (!sheet->filed && was_in_last_oven(stations, sheet, edge_time(edge)))
			return sheet;
	}
	return NULL;
}

void
stations_sag(struct stations *stations, const struct edge *edge)
{
	struct sheet *sheet = seen_by_eye(stations, edge);

	if (sheet == NULL || (sheet->flags & SHOT_FLAG_SAG_STUCK))
		return;
	sheet->sags++;
	sheet->sag = *edge;
	if (sheet->sags > 1) {
		sheet->sag.known = false;
		sheet->flags |= SHOT_FLAG_SAG_STUCK;
	}
}

void
stations_sagging(struct stations *stations, const struct edge *edge)
{
	const struct sheet *sheet = seen_by_eye(stations, edge);

	if (sheet != NULL && sheet->sags == 0)
		stations_sag(stations, edge);
}

void
stations_form_closes(
    struct stations *stations, const struct edge *edge, int64_t cycle_count)
{
	struct sheet *form = &stations->at[stations->form];

	if (form->filed && !stations->at[0].filed && stations->at[0].silent) {
		*form = stations->at[0]; /* heated in the silence */
		form->unseen = true;
		form->flags |= SHOT_FLAG_GAP;
		stations->at[0].filed = true;
	}
	if (form->filed) {
		stations_find(
		    stations, stations->form, edge->before, stations->stranger);
		form->last_form_start = stations->last_form_start;
		form->last_form_end = stations->last_form_end;
	}
	if (form->closings++ > 0)
		return;
	form->form_start = *edge;
	form->cycle_count = cycle_count;
	if (edge_span_s(&form->arrived, edge) > stations->line->form_limit_s)
		form->flags |= SHOT_FLAG_LATE_FORM;
}

void
stations_form_opens(struct stations *stations, const struct edge *edge)
{
	struct sheet *form = &stations->at[stations->form];

	if (!form->filed && form->form_start.known)
		form->form_end = *edge;
}

/* It goes into the oven at that station. */
void
stations_enter_oven(struct stations *stations, int station, const struct edge *edge,
    const struct intake *intake)
{
	struct sheet *sheet = &stations->at[station];

	if (sheet->filed)
		return;
	if (sheet->stay_count == SHEET_STAYS_MAX) {
		sheet->flags |= SHOT_FLAG_SEQUENCE;
		sheet->unseen = true;
		sheet->stay_count--;
	}
	sheet->stays[sheet->stay_count++] =
	    (struct stay){.oven = station - stations->first_oven, .in = *edge};
	sheet->sag.known = false;
	sheet->sags = 0;
	if (sheet_reheated(sheet))
		sheet->flags |= SHOT_FLAG_REHEAT;
	if (station == stations->first_oven) {
		if (sheet->stay_count == 1)
			sheet->placed = edge->before;
		sheet->recipe = intake->recipe;
		sheet->set_points = intake->set_points;
		sheet->flags |= intake->flags;
	}
	if (station == stations->last_oven && intake->sag_stuck)
		sheet->flags |= SHOT_FLAG_SAG_STUCK;
}

/* It comes to the form station. */
void
stations_arrive_at_form(struct stations *stations, const struct edge *edge)
{
	struct sheet *form = &stations->at[stations->form];

	stations->stranger = SHOT_FLAG_SEQUENCE;
	form->arrived = *edge;
	form->last_form_start = stations->last_form_start;
	form->last_form_end = stations->last_form_end;
}

/* What stood at the form station goes: what it was formed with is the next one's past. */
void
stations_leave_form(struct stations *stations)
{
	const struct sheet *form = &stations->at[stations->form];

	if (form->filed)
		return;
	stations->last_form_start = form->form_start;
	stations->last_form_end = form->form_end;
}

void
stations_note_move(struct stations *stations, const struct edge *edge)
{
	struct mono at = edge_time(edge);

	double step_s =
	    (double)(at.ns - stations->last_move.ns) / (double)CLOCK_SECOND_NS;

	/* A stop is no step. */
	if (stations->last_move.ns != 0 && step_s < stations->line->startup_after_s)
		stations->step_s = step_s;
	stations->last_move = at;
}

/* --- keeping ------------------------------------------------------------------------- */

struct mono
stations_need(const struct stations *stations, struct mono now)
{
	const struct edge *opened = &stations->last_form_end;
	double stop_s = stations->line->startup_after_s;
	struct mono need = now;

	/* The tool's cycle of the sheet that will be formed next. */
	if (opened->known &&
	    (double)(now.ns - opened->at.ns) / (double)CLOCK_SECOND_NS <= stop_s)
		need = opened->before;
	for (int s = 0; s < stations->count; s++) {
		struct mono one = sheet_need(&stations->at[s], stop_s);

		if (!stations->at[s].filed &&
		    (s > 0 || stations->at[s].stay_count > 0) && one.ns < need.ns)
			need = one;
	}
	return need;
}

void
stations_freeze(struct stations *stations, struct freeze *freeze)
{
	for (int s = 0; s < stations->count; s++)
		freeze_sheet(freeze, &stations->at[s]);
	freeze_i64(freeze, &stations->numbers);
	freeze_time(freeze, &stations->last_move.ns);
	freeze_double(freeze, &stations->step_s);
	freeze_u32(freeze, &stations->stranger);
	freeze_edge(freeze, &stations->last_form_start);
	freeze_edge(freeze, &stations->last_form_end);
	freeze_edge(freeze, &stations->emptied);
}
