/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/stations.h"

#include <math.h>

#include "daemon/shot/shot.h"

static struct sheet
fresh(struct mono now)
{
	return (struct sheet){
	    .placed = now, .recipe = -1, .cycle_count = -1, .last_tool_mean_c = NAN};
}

void
stations_init(struct stations *stations, struct mono now, uint32_t flags)
{
	*stations = (struct stations){.last_index = {0}};
	for (int s = 0; s < STATION_COUNT; s++) {
		stations->at[s] = fresh(now);
		/* What stands at the load station has its whole way before it. */
		stations->at[s].unseen = s != STATION_LOAD;
		stations->at[s].flags = s != STATION_LOAD ? flags : 0;
	}
}

void
stations_flag_working(struct stations *stations, uint32_t flags)
{
	stations->at[STATION_OVEN].flags |= flags;
	stations->at[STATION_FORM].flags |= flags;
}

void
stations_flag_all(struct stations *stations, uint32_t flags)
{
	stations_flag_working(stations, flags);
	stations->at[STATION_LOAD].flags |= flags;
}

void
stations_lose(struct stations *stations)
{
	for (int s = 0; s < STATION_COUNT; s++)
		stations->at[s].unseen = true;
}

void
stations_index_starts(struct stations *stations, const struct edge *edge)
{
	struct sheet *oven = &stations->at[STATION_OVEN];
	struct sheet *load = &stations->at[STATION_LOAD];

	oven->heat_end = *edge;
	if (!load->loaded.known)
		load->loaded = *edge;
}

struct sheet
stations_index_done(
    struct stations *stations, const struct edge *edge, int recipe, uint32_t flags)
{
	struct sheet left = stations->at[STATION_FORM];
	struct sheet *oven, *form;

	left.left = edge_time(edge);
	left.left_wall = edge->wall;
	for (int s = STATION_COUNT - 1; s > 0; s--)
		stations->at[s] = stations->at[s - 1];
	stations->at[STATION_LOAD] = fresh(edge->at);
	oven = &stations->at[STATION_OVEN];
	oven->heat_start = *edge;
	oven->placed = edge->before;
	oven->recipe = recipe;
	oven->flags |= flags;
	form = &stations->at[STATION_FORM];
	form->next_index = *edge;
	form->last_form_start = left.form_start;
	form->last_form_end = left.form_end;
	stations->last_index = edge_time(edge);
	return left;
}

void
stations_sag(struct stations *stations, const struct edge *edge)
{
	struct sheet *oven = &stations->at[STATION_OVEN];
	int64_t at_ns = edge_time(edge).ns;

	if (!oven->heat_start.known || at_ns < edge_time(&oven->heat_start).ns)
		return;
	if (oven->heat_end.known && at_ns > edge_time(&oven->heat_end).ns)
		return;
	if (oven->flags & SHOT_FLAG_SAG_STUCK)
		return;
	oven->sags++;
	if (oven->sags == 1) {
		oven->sag = *edge;
		return;
	}
	oven->sag.known = false;
	oven->flags |= SHOT_FLAG_SAG_STUCK;
}

void
stations_form_closes(struct stations *stations, const struct edge *edge,
    int64_t cycle_count, double form_limit_s)
{
	struct sheet *form = &stations->at[STATION_FORM];

	if (form->form_start.known)
		return;
	form->form_start = *edge;
	form->cycle_count = cycle_count;
	if (edge_span_s(&form->next_index, edge) > form_limit_s)
		form->flags |= SHOT_FLAG_LATE_FORM;
}

void
stations_form_opens(struct stations *stations, const struct edge *edge)
{
	if (stations->at[STATION_FORM].form_start.known)
		stations->at[STATION_FORM].form_end = *edge;
}

struct mono
stations_need(const struct stations *stations, struct mono now)
{
	struct mono need = now;

	for (int s = STATION_OVEN; s < STATION_COUNT; s++)
		if (stations->at[s].placed.ns < need.ns)
			need = stations->at[s].placed;
	return need;
}
