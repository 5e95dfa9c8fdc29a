/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/calibrate_run.h"

#include <math.h>
#include <stdlib.h>

enum { READINGS_MOST = 1000000 }; /* a sensor */

/* --- what is read ---------------------------------------------------------------------- */

static bool
is_meant(const struct settings *settings, size_t i, int line)
{
	const struct channel_settings *channel = &settings->channels[i];

	return settings->devices[channel->device].line == (uint32_t)line &&
	       (channel->role == ROLE_TOOL || channel->role == ROLE_WATER_SUPPLY ||
		   channel->role == ROLE_WATER_RETURN);
}

static bool
is_hall(const struct settings *settings, size_t i, int line)
{
	const struct channel_settings *channel = &settings->channels[i];

	return settings->devices[channel->device].line == (uint32_t)line &&
	       channel->role == ROLE_AMBIENT;
}

static void
put_channel(struct calibrate_run *run, const struct settings *settings, size_t i)
{
	struct calibrate_sensor *sensor =
	    &run->sensors[run->sensor_count + run->hall_count];

	sensor->channel = i;
	sensor->role = settings->channels[i].role;
	sensor->side = settings->channels[i].side;
}

void
calibrate_run_init(struct calibrate_run *run, const struct settings *settings, int line)
{
	*run = (struct calibrate_run){.hall_c = NAN};
	run->sensors = calloc(settings->channel_count + 1, sizeof *run->sensors);
	if (!run->sensors) {
		run->failed = true;
		return;
	}
	for (size_t i = 0; i < settings->channel_count; i++)
		if (is_meant(settings, i, line)) {
			put_channel(run, settings, i);
			run->sensor_count++;
		}
	for (size_t i = 0; i < settings->channel_count; i++)
		if (is_hall(settings, i, line)) {
			put_channel(run, settings, i);
			run->hall_count++;
		}
}

void
calibrate_run_release(struct calibrate_run *run)
{
	for (size_t i = 0; i < run->sensor_count + run->hall_count; i++) {
		free(run->sensors[i].t_s);
		free(run->sensors[i].value_c);
	}
	free(run->sensors);
	*run = (struct calibrate_run){0};
}

struct calibrate_sensor *
calibrate_run_find(struct calibrate_run *run, size_t channel)
{
	for (size_t i = 0; i < run->sensor_count; i++)
		if (run->sensors[i].channel == channel)
			return &run->sensors[i];
	return NULL;
}

static bool
grow(double **list, size_t room)
{
	double *grown = reallocarray(*list, room, sizeof *grown);

	if (grown)
		*list = grown;
	return grown != NULL;
}

void
calibrate_run_add(struct calibrate_run *run, struct calibrate_sensor *sensor,
    double t_s, double value_c)
{
	if (sensor->count == sensor->room) {
		size_t room = sensor->room ? sensor->room * 2 : 256;
		if (room > READINGS_MOST || !grow(&sensor->t_s, room) ||
		    !grow(&sensor->value_c, room)) {
			run->failed = true;
			return;
		}
		sensor->room = room;
	}
	sensor->t_s[sensor->count] = t_s;
	sensor->value_c[sensor->count++] = value_c;
}

const char *
calibrate_run_remark_text(enum run_remark remark)
{
	switch (remark) {
	case RUN_FINE:
		return "";
	case RUN_SILENT:
		return "silent for a part of it: left out";
	case RUN_DRIFTS:
		return "drifts";
	case RUN_NOISY:
		return "noisy";
	case RUN_FAR:
		return "far off: left out";
	case RUN_ALONE:
		return "not compared";
	}
	return "";
}

const char *
calibrate_run_against_text(enum run_against against)
{
	switch (against) {
	case RUN_AGAINST_NOTHING:
		return "";
	case RUN_AGAINST_TOOLS:
		return "tool sensors";
	case RUN_AGAINST_RETURNS:
		return "returns";
	case RUN_AGAINST_WATER:
		return "returns, supply";
	case RUN_AGAINST_TRUE:
		return "true";
	}
	return "";
}
