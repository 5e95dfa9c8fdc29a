/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Small sound configurations of other machines than the plant's.
 */
#ifndef TESTS_UNIT_CONF_MACHINES_H
#define TESTS_UNIT_CONF_MACHINES_H

/* clang-format off: rows of lines, whose numbers the messages name */
#define MACHINES_HEAD        \
	"[site]\n"           \
	"name = works\n"     \
	"timezone = UTC\n"   \
	"[ledger]\n"         \
	"path = ledger.db\n" \
	"[line a]\n"         \
	"heat_timer_s = 230\n"

/* A ring of five with two ovens. */
static const char ring[] =
    MACHINES_HEAD "machine = rotary\n"
		  "stations = load, oven-a, oven-b, form, unload\n"
		  "[device plc]\n"
		  "line = a\n"
		  "address = 127.0.0.1:1502\n"
		  "[channel plc.rotating]\n"
		  "role = rotating\n"
		  "table = discrete\n"
		  "address = 0\n"
		  "type = bit\n"
		  "[channel plc.form_closed]\n"
		  "role = form_closed\n"
		  "table = discrete\n"
		  "address = 1\n"
		  "type = bit\n"
		  "[channel plc.top_a]\n"
		  "role = surface_top\n"
		  "station = oven-a\n"
		  "count = 4\n"
		  "table = input\n"
		  "address = 0\n"
		  "type = int16\n"
		  "unit = C\n"
		  "[channel plc.top_b]\n"
		  "role = surface_top\n"
		  "station = oven-b\n"
		  "count = 3\n"
		  "table = input\n"
		  "address = 4\n"
		  "type = int16\n"
		  "unit = C\n"
		  "[channel plc.zone]\n"
		  "role = zone_bottom\n"
		  "station = oven-a\n"
		  "count = 24\n"
		  "table = input\n"
		  "address = 10\n"
		  "type = uint16\n"
		  "unit = %\n";

/* Two frames, one oven between them. */
static const char shuttle[] = MACHINES_HEAD "machine = shuttle\n"
					    "stations = load, oven, form\n"
					    "sides = left, right\n"
					    "[device plc]\n"
					    "line = a\n"
					    "address = 127.0.0.1:1502\n"
					    "[channel plc.oven_left]\n"
					    "role = oven_in\n"
					    "side = left\n"
					    "table = discrete\n"
					    "address = 0\n"
					    "type = bit\n"
					    "[channel plc.oven_right]\n"
					    "role = oven_in\n"
					    "side = right\n"
					    "table = discrete\n"
					    "address = 1\n"
					    "type = bit\n"
					    "[channel plc.form_closed]\n"
					    "role = form_closed\n"
					    "table = discrete\n"
					    "address = 2\n"
					    "type = bit\n"
					    "[channel plc.top]\n"
					    "role = surface_top\n"
					    "count = 3\n"
					    "table = input\n"
					    "address = 0\n"
					    "type = int16\n"
					    "unit = C\n"
					    "[channel plc.tool_left]\n"
					    "role = tool\n"
					    "side = left\n"
					    "count = 4\n"
					    "table = input\n"
					    "address = 20\n"
					    "type = int16\n"
					    "unit = C\n"
					    "[channel plc.tool_right]\n"
					    "role = tool\n"
					    "side = right\n"
					    "count = 6\n"
					    "table = input\n"
					    "address = 30\n"
					    "type = int16\n"
					    "unit = C\n";

/* The sheet stays, the oven comes and goes. */
static const char single[] = MACHINES_HEAD "machine = single-station\n"
					   "stations = load, oven, form\n"
					   "[device plc]\n"
					   "line = a\n"
					   "address = 127.0.0.1:1502\n"
					   "[channel plc.oven_in]\n"
					   "role = oven_in\n"
					   "table = discrete\n"
					   "address = 0\n"
					   "type = bit\n"
					   "[channel plc.form_closed]\n"
					   "role = form_closed\n"
					   "table = discrete\n"
					   "address = 1\n"
					   "type = bit\n"
					   "[channel plc.clamp_closed]\n"
					   "role = clamp_closed\n"
					   "table = discrete\n"
					   "address = 2\n"
					   "type = bit\n";
/* clang-format on */

#endif
