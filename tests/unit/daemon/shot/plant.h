/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A line made by hand for the tests of what is computed of a sheet: one device, channels
 * as a test adds them, readings as it shows them.  Invented plant.
 */
#ifndef TESTS_UNIT_DAEMON_SHOT_PLANT_H
#define TESTS_UNIT_DAEMON_SHOT_PLANT_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/features.h"
#include "daemon/shot/record.h"
#include "tests/unit/daemon/shot/way.h"
#include "tests/unit/near.h"

enum { PLANT_CHANNELS = 32 };

struct plant;
typedef double plant_show(const struct plant *plant, int channel, double s);

struct plant {
	struct settings settings;
	struct line_settings line;
	struct device_settings device;
	struct channel_settings channels[PLANT_CHANNELS];
	struct recipe_settings recipe;
	struct material_settings material;
	struct tool_settings tool;
	struct circumstances told;
	struct roles roles;
	struct history *history;
	struct sheet sheet;
	struct shot *shot;
	plant_show *show;             /* NAN: a broken sensor */
	double shift[PLANT_CHANNELS]; /* for the test's own use */
	bool ready;
};

/* Amorphous with constant figures: alpha 8.362369e-8 m2/s, so that for 6.35 mm the square
 * of half the thickness over it is 120.547474 s.  Arithmetic on round numbers. */
#define PLANT_CONDUCTIVITY 0.18
#define PLANT_DENSITY 1050.0
#define PLANT_CAPACITY 2050.0
#define PLANT_THICKNESS_M 6.35e-3
#define PLANT_RELAX_S                                                  \
	(PLANT_THICKNESS_M * PLANT_THICKNESS_M / 4.0 * PLANT_DENSITY * \
	    PLANT_CAPACITY / PLANT_CONDUCTIVITY)

static inline void
plant_init(struct plant *plant, plant_show *show)
{
	*plant = (struct plant){.show = show};
	plant->line = (struct line_settings){.machine = MACHINE_ROTARY,
	    .station_count = 3,
	    .stations = {{"load", STATION_LOAD}, {"oven", STATION_OVEN},
		{"form", STATION_FORM}},
	    .oven_count = 1,
	    .side_count = 1,
	    .heat_min_s = 30.0,
	    .heat_max_s = 10000.0,
	    .form_min_s = 5.0,
	    .startup_after_s = 900.0,
	    .rate_from_s = 10.0,
	    .rate_to_s = 40.0,
	    .coverage_min = 0.8,
	    .start_c = NAN,
	    .transfer_w_m2k = 10.0,
	    .transfer_tolerance = 0.5,
	    .ambient_tolerance_dc = 5.0,
	    .oven_air_w_m2k = NAN,
	    .oven_exchange_tolerance = 0.25,
	    .oven_air_tolerance_dc = 5.0,
	    .pyrometer_tolerance_dc = 2.0,
	    .pyrometer_gain_tolerance = 0.02,
	    .pyrometer_lag_tolerance_s = 1.0,
	    .start_tolerance_dc = 2.0,
	    .coolant_heat_ratio = 1.0,
	    .coolant_viscosity_ratio = 1.0};
	plant->device.period_s = 0.5;
	plant->recipe = (struct recipe_settings){.number = 7,
	    .material = "stuff",
	    .heat_max_s = NAN,
	    .thickness_m = PLANT_THICKNESS_M,
	    .thickness_tolerance = 0.02,
	    .sheet_length_m = 1.8,
	    .sheet_width_m = 1.2,
	    .demould_c = 80.0};
	plant->material = (struct material_settings){.name = "stuff",
	    .version = "2",
	    .hash = "4c1a09e2",
	    .structure = STRUCTURE_AMORPHOUS,
	    .density = PLANT_DENSITY,
	    .heat_capacity = {1, {23.0}, {PLANT_CAPACITY}},
	    .conductivity = {1, {23.0}, {PLANT_CONDUCTIVITY}},
	    .fusion_j_kg = NAN,
	    .melting_c = NAN,
	    .melting_width_dc = NAN,
	    .emissivity = 0.93,
	    .diffusivity_tolerance = 0.15,
	    .fusion_tolerance = 0.1,
	    .form_low_c = NAN,
	    .form_high_c = NAN,
	    .limit_c = NAN,
	    .demould_c = NAN};
	plant->tool = (struct tool_settings){.name = "T-1", .bore_m = 12.7e-3};
	plant->told = (struct circumstances){.recipe = 7,
	    .material = "stuff",
	    .tool = "T-1",
	    .thickness_m = NAN,
	    .stack_c = NAN};
	plant->settings = (struct settings){.lines = &plant->line,
	    .line_count = 1,
	    .devices = &plant->device,
	    .device_count = 1,
	    .channels = plant->channels,
	    .recipes = &plant->recipe,
	    .recipe_count = 1,
	    .materials = &plant->material,
	    .material_count = 1,
	    .tools = &plant->tool,
	    .tool_count = 1};
	plant->sheet = way_usual();
	plant->sheet.recipe = 7;
}

/* The channel's index. */
static inline int
plant_add(struct plant *plant, enum role role, int position, int oven)
{
	int channel = (int)plant->settings.channel_count++;

	assert_true(channel < PLANT_CHANNELS);
	plant->channels[channel] = (struct channel_settings){.role = role,
	    .position = position,
	    .oven = oven,
	    .side = -1,
	    .fault_channel = -1,
	    .min_si = -INFINITY,
	    .max_si = INFINITY};
	plant->device.channel_count++;
	return channel;
}

/* After the last channel. */
static inline void
plant_ready(struct plant *plant)
{
	assert_true(groups_make(&plant->device, plant->channels));
	assert_int_equal(roles_init(&plant->roles, &plant->settings, 0, 0), 0);
	plant->history = history_new(&plant->settings, 0);
	plant->shot = shot_new(plant->roles.all_count);
	plant->ready = true;
}

static inline void
plant_release(struct plant *plant)
{
	if (!plant->ready)
		return;
	shot_free(plant->shot);
	history_free(plant->history);
	roles_release(&plant->roles);
	plant->ready = false;
}

/* Readings at the device's period. */
static inline void
plant_play(struct plant *plant, double from_s, double to_s)
{
	uint32_t count = (uint32_t)plant->settings.channel_count;
	struct scan *scan = calloc(1, scan_bytes(count));

	for (double s = from_s; s <= to_s; s += plant->device.period_s) {
		scan->sent = scan->at = way_at(s);
		scan->count = count;
		for (uint32_t c = 0; c < count; c++) {
			double value = plant->show(plant, (int)c, s);

			scan->readings[c] = (struct reading){.value = value,
			    .quality =
				isnan(value) ? QUALITY_SENSOR_FAULT : QUALITY_GOOD,
			    .raw = 7 + c};
		}
		history_take(plant->history, scan);
	}
	free(scan);
}

static inline void
plant_compute(struct plant *plant)
{
	struct feature_source source = {.settings = &plant->settings,
	    .line = &plant->line,
	    .roles = &plant->roles,
	    .history = plant->history,
	    .sheet = &plant->sheet,
	    .circumstances = &plant->told};

	features_compute(&source, plant->shot);
}

/* All of it, from readings of the time around the sheet's way. */
static inline void
plant_run(struct plant *plant)
{
	plant_ready(plant);
	plant_play(plant, 0.0, 450.0);
	plant_compute(plant);
}

static inline double
plant_value(const struct plant *plant, int feature)
{
	assert_int_equal(plant->shot->absent[feature], ABSENT_NOT);
	return plant->shot->value[feature];
}

#define assert_absent(plant, feature, why) \
	assert_int_equal((plant)->shot->absent[feature], why)

#endif
