/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Small lines for the targets that need settings, one of each way of moving sheets.
 */
#ifndef TESTS_FUZZ_PLANT_H
#define TESTS_FUZZ_PLANT_H

#include "conf/settings.h"

#include "tests/fuzz/target.h"

#define PLANT_SITE                                                 \
	"[site]\nname = t\ntimezone = UTC\ntemperature_unit = C\n" \
	"[ledger]\npath = /tmp/none.db\n"
#define PLANT_DEVICE                                                      \
	"[device plc]\nline = r\naddress = 127.0.0.1:1502\nunit_id = 1\n" \
	"period_ms = 500\n"
#define PLANT_BIT(name, role, address)         \
	"[channel plc." name "]\nrole = " role \
	"\ntable = discrete\naddress = " address "\ntype = bit\n"
#define PLANT_MEASURES                                                               \
	"[device io]\nline = r\naddress = 127.0.0.1:1503\nunit_id = 1\n"             \
	"period_ms = 1000\n"                                                         \
	"[channel io.top]\nrole = surface_top\ncount = 2\ntable = input\naddress = " \
	"0\n"                                                                        \
	"type = int16\nscale = 0.1\nunit = C\nsentinels = 0x7fff\n"                  \
	"[channel io.tool]\nrole = tool\ntable = input\naddress = 20\n"              \
	"type = float32\nword_order = abcd\nunit = C\n"                              \
	"[channel io.meter]\nrole = energy_meter\ntable = input\naddress = 30\n"     \
	"type = uint32\nword_order = cdab\nscale = 0.1\nunit = kWh\n"

#define PLANT_ROTARY                                                               \
	PLANT_SITE "[line r]\nmachine = rotary\nstations = load, oven, form\n"     \
		   "heat_min_s = 30\nheat_timer_s = 230\n" PLANT_DEVICE PLANT_BIT( \
		       "rotating", "rotating", "0")                                \
		       PLANT_BIT("form", "form_closed", "1")                       \
			   PLANT_BIT("sag", "sag_eye", "2")                        \
			       PLANT_BIT("load", "sheet_at_load", "3") PLANT_MEASURES
#define PLANT_SHUTTLE                                                              \
	PLANT_SITE "[line r]\nmachine = shuttle\nstations = load, oven, form\n"    \
		   "heat_min_s = 30\nheat_timer_s = 230\n" PLANT_DEVICE PLANT_BIT( \
		       "in", "oven_in", "0") PLANT_BIT("form", "form_closed", "1") \
		       PLANT_BIT("clamp", "clamp_closed", "2")                     \
			   PLANT_BIT("sag", "sag_eye", "3") PLANT_MEASURES

/* Read once for good. */
static inline struct settings *
plant_parse(const char *text)
{
	static struct problems problems;
	struct settings *settings = settings_parse(text, "plant.ini", &problems);

	if (settings == NULL)
		fprintf(stderr, "%s\n", problems.list[0].text);
	MUST(settings != NULL);
	return settings;
}

#endif
