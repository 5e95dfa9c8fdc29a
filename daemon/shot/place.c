/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/place.h"

#include <math.h>

#include "conf/settings.h"

struct tracker_place
place_look(const struct lane *lane, int station, struct mono now)
{
	const struct line_settings *line = &lane->settings->lines[lane->line];
	const struct stations *stations = &lane->stations;
	const struct sheet *sheet = &stations->at[station];
	struct tracker_place place = {.station = line->stations[station].name,
	    .side = line->sides[lane->side],
	    .since_s = NAN,
	    .empty = sheet->filed || sheet->empty ||
	             (station == 0 && !sheet->loaded.known && !sheet->unseen)};
	const struct stay *stay =
	    sheet->stay_count > 0 ? &sheet->stays[sheet->stay_count - 1] : NULL;
	struct edge since = {.known = false};

	if (sheet->filed)
		return place;
	place.seen = !sheet->unseen;
	place.number = sheet->unseen ? 0 : sheet->number;
	place.flags = sheet->flags;
	place.forming = station == stations->form && sheet->form_start.known &&
	                !sheet->form_end.known;
	if (station == 0)
		since = sheet->loaded;
	else if (line->stations[station].kind == STATION_OVEN && stay != NULL)
		since = stay->in;
	else if (station == stations->form)
		since = sheet->arrived;
	if (since.known)
		place.since_s = (double)(now.ns - edge_time(&since).ns) / 1e9;
	return place;
}
