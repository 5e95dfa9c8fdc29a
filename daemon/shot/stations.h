/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The sheets on the stations of a line, and how edges move them on.
 *
 * A sheet is a record that travels; edges move the records, and what happens at a
 * station happens to the record that stands there.  So the heat that the oven gives and
 * the forming that the tool does between two indexes belong to two different sheets.
 * Pure; one thread.
 */
#ifndef DAEMON_SHOT_STATIONS_H
#define DAEMON_SHOT_STATIONS_H

#include "daemon/shot/sheet.h"

enum station { STATION_LOAD, STATION_OVEN, STATION_FORM, STATION_COUNT };

struct stations {
	struct sheet at[STATION_COUNT];
	struct mono last_index; /* done; ns 0: none seen */
};

/* Sheets that nobody saw arrive, on every station. */
void stations_init(struct stations *stations, struct mono now, uint32_t flags);

/* Adds flags to the sheets in oven and form station, or to all of them. */
void stations_flag_working(struct stations *stations, uint32_t flags);
void stations_flag_all(struct stations *stations, uint32_t flags);

/* Nobody knows any more which sheet stands where. */
void stations_lose(struct stations *stations);

/* The frames start to move. */
void stations_index_starts(struct stations *stations, const struct edge *edge);

/* They have arrived: everything is one station further.  Returns the sheet that left
 * the form station.  `recipe` is the machine's, for the sheet now in the oven. */
struct sheet stations_index_done(
    struct stations *stations, const struct edge *edge, int recipe, uint32_t flags);

/* The sag eye, debounced: `rose` for a rise.  Belongs to the sheet in the oven if it was
 * there at the edge. */
void stations_sag(struct stations *stations, const struct edge *edge);

void stations_form_closes(struct stations *stations, const struct edge *edge,
    int64_t cycle_count, double form_limit_s);
void stations_form_opens(struct stations *stations, const struct edge *edge);

/* From when on the readings are still needed. */
struct mono stations_need(const struct stations *stations, struct mono now);

#endif
