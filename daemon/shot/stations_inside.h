/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the ways of moving share.  Only for stations*.c.
 */
#ifndef DAEMON_SHOT_STATIONS_INSIDE_H
#define DAEMON_SHOT_STATIONS_INSIDE_H

#include "daemon/shot/stations.h"

/* Nothing can happen any more to the sheet at that station; its place is nobody's. */
void stations_leave(
    struct stations *stations, int station, struct mono at, struct wall wall);
void stations_leave_at(struct stations *stations, int station, const struct edge *edge);

/* What stands at the form station goes: what it was formed with is the next one's past. */
void stations_leave_form(struct stations *stations);

/* A sheet goes into the oven at that station; one comes to the form station. */
void stations_enter_oven(struct stations *stations, int station,
    const struct edge *edge, const struct intake *intake);
void stations_arrive_at_form(struct stations *stations, const struct edge *edge);

/* The line has gone on by a step. */
void stations_note_move(struct stations *stations, const struct edge *edge);

#endif
