/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A sheet's way made by hand, for the tests of what is made of it: edges seen by polls
 * half a second apart.
 */
#ifndef TESTS_UNIT_DAEMON_SHOT_WAY_H
#define TESTS_UNIT_DAEMON_SHOT_WAY_H

#include "daemon/shot/sheet.h"

static inline struct mono
way_at(double seconds)
{
	return (struct mono){(int64_t)(seconds * 1e9)};
}

static inline struct edge
way_edge(double seconds)
{
	return (struct edge){.known = true,
	    .before = way_at(seconds - 0.25),
	    .at = way_at(seconds + 0.25),
	    .wall = {1700000000000000000 + way_at(seconds).ns}};
}

static inline void
way_stay(struct sheet *sheet, int oven, double in_s, double out_s)
{
	sheet->stays[sheet->stay_count++] =
	    (struct stay){.oven = oven, .in = way_edge(in_s), .out = way_edge(out_s)};
}

/* Loaded at 100, in the oven from 110 to 250, sagged at 230, platens closed from 262 to
 * 362. */
static inline struct sheet
way_usual(void)
{
	struct sheet sheet = sheet_at(way_at(100.0));

	sheet.number = 1;
	sheet.loaded = way_edge(100.0);
	way_stay(&sheet, 0, 110.0, 250.0);
	sheet.sags = 1;
	sheet.sag = way_edge(230.0);
	sheet.arrived = way_edge(258.0);
	sheet.closings = 1;
	sheet.form_start = way_edge(262.0);
	sheet.form_end = way_edge(362.0);
	sheet.left = way_at(400.0);
	return sheet;
}

#endif
