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

void
calibrate_run_init(struct calibrate_run *run, const struct settings *settings, int line)
{
	*run = (struct calibrate_run){.true_c = NAN};
	run->sensors = calloc(settings->channel_count + 1, sizeof *run->sensors);
	if (!run->sensors) {
		run->failed = true;
		return;
	}
	for (size_t i = 0; i < settings->channel_count; i++)
		if (is_meant(settings, i, line))
			run->sensors[run->sensor_count++].channel = i;
}

void
calibrate_run_release(struct calibrate_run *run)
{
	for (size_t i = 0; i < run->sensor_count; i++) {
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

/* --- judged ---------------------------------------------------------------------------- */

struct pieces {
	double mean_c[RUN_PIECES]; /* NAN: no readings */
};

static struct pieces
cut(const struct calibrate_sensor *sensor, double from_s, double lasts_s)
{
	struct pieces pieces = {0};
	int counts[RUN_PIECES] = {0};

	for (size_t i = 0; i < sensor->count; i++) {
		int piece = (int)((sensor->t_s[i] - from_s) / lasts_s * RUN_PIECES);
		piece = piece < RUN_PIECES ? piece : RUN_PIECES - 1;
		pieces.mean_c[piece] +=
		    (sensor->value_c[i] - pieces.mean_c[piece]) / ++counts[piece];
	}
	for (int k = 0; k < RUN_PIECES; k++)
		if (counts[k] == 0)
			pieces.mean_c[k] = NAN;
	return pieces;
}

/* NAN when one of them is. */
static double
mean_of(const double *values, int count)
{
	double sum = 0;

	for (int i = 0; i < count; i++)
		sum += values[i];
	return sum / count;
}

static double
sd_of(const double *values, size_t count, double mean)
{
	double sum = 0;

	for (size_t i = 0; i < count; i++)
		sum += (values[i] - mean) * (values[i] - mean);
	return count > 1 ? sqrt(sum / (double)(count - 1)) : NAN;
}

/* What a straight line through the readings changes by over the run. */
static double
drift_of(const struct calibrate_sensor *sensor, double mean_c, double lasts_s)
{
	double mean_t = 0, above = 0, below = 0;

	for (size_t i = 0; i < sensor->count; i++)
		mean_t += sensor->t_s[i] / (double)sensor->count;
	for (size_t i = 0; i < sensor->count; i++) {
		double t = sensor->t_s[i] - mean_t;
		above += t * (sensor->value_c[i] - mean_c);
		below += t * t;
	}
	return below > 0 ? above / below * lasts_s : NAN;
}

static double
mean_reading(const struct calibrate_sensor *sensor)
{
	double mean = 0;

	for (size_t i = 0; i < sensor->count; i++)
		mean += (sensor->value_c[i] - mean) / (double)(i + 1);
	return mean;
}

static enum run_remark
remark_on_sensor(const struct calibrate_sensor *sensor)
{
	if (!(fabs(sensor->offset_dc) <= RUN_FAR_DC))
		return RUN_FAR;
	if (!(fabs(sensor->drift_dc) <= RUN_DRIFT_DC))
		return RUN_DRIFTS;
	return sensor->sd_dc > RUN_SD_DC ? RUN_NOISY : RUN_FINE;
}

static void
judge_sensor(struct calibrate_sensor *sensor, const struct pieces *pieces,
    const struct pieces *truth, double lasts_s)
{
	double off[RUN_PIECES];

	sensor->mean_c = mean_reading(sensor);
	sensor->sd_dc = sd_of(sensor->value_c, sensor->count, sensor->mean_c);
	sensor->drift_dc = drift_of(sensor, sensor->mean_c, lasts_s);
	for (int k = 0; k < RUN_PIECES; k++)
		off[k] = pieces->mean_c[k] - truth->mean_c[k];
	sensor->offset_dc = mean_of(off, RUN_PIECES);
	sensor->error_dc = sd_of(off, RUN_PIECES, sensor->offset_dc) / sqrt(RUN_PIECES);
	sensor->remark = remark_on_sensor(sensor);
}

/* From the first to the last reading of any. */
static void
find_span(const struct calibrate_run *run, double *from_s, double *lasts_s)
{
	double to_s = NAN;

	*from_s = NAN;
	for (size_t i = 0; i < run->sensor_count; i++) {
		const struct calibrate_sensor *sensor = &run->sensors[i];
		if (sensor->count == 0)
			continue;
		*from_s = fmin(*from_s, sensor->t_s[0]);
		to_s = fmax(to_s, sensor->t_s[sensor->count - 1]);
	}
	*lasts_s = to_s > *from_s ? to_s - *from_s : 0;
}

/* The pieces of all sensors, those with a hole marked silent; what is true in each. */
static struct pieces
cut_all(struct calibrate_run *run, struct pieces *all, double from_s, double true_c)
{
	struct pieces truth = {0};

	for (size_t i = 0; i < run->sensor_count; i++) {
		struct calibrate_sensor *sensor = &run->sensors[i];
		all[i] = cut(sensor, from_s, run->lasts_s);
		if (isnan(mean_of(all[i].mean_c, RUN_PIECES))) {
			sensor->remark = RUN_SILENT;
			continue;
		}
		sensor->remark = RUN_FINE;
		run->used++;
		for (int k = 0; k < RUN_PIECES; k++)
			truth.mean_c[k] +=
			    (all[i].mean_c[k] - truth.mean_c[k]) / (double)run->used;
	}
	for (int k = 0; k < RUN_PIECES && !isnan(true_c); k++)
		truth.mean_c[k] = true_c;
	return truth;
}

void
calibrate_run_judge(struct calibrate_run *run, double true_c)
{
	double from_s;
	struct pieces *all = calloc(run->sensor_count + 1, sizeof *all);

	find_span(run, &from_s, &run->lasts_s);
	for (size_t i = 0; i < run->sensor_count; i++) {
		struct calibrate_sensor *sensor = &run->sensors[i];
		sensor->mean_c = sensor->sd_dc = sensor->drift_dc = NAN;
		sensor->offset_dc = sensor->error_dc = NAN;
		sensor->remark = RUN_SILENT;
	}
	run->used = 0;
	run->failed |= !all;
	if (all && run->lasts_s > 0) {
		const struct pieces truth = cut_all(run, all, from_s, true_c);
		run->true_c = mean_of(truth.mean_c, RUN_PIECES);
		for (size_t i = 0; i < run->sensor_count; i++)
			if (run->sensors[i].remark != RUN_SILENT)
				judge_sensor(
				    &run->sensors[i], &all[i], &truth, run->lasts_s);
	}
	run->steady = run->used > 0;
	for (size_t i = 0; i < run->sensor_count; i++)
		run->steady &= run->sensors[i].remark == RUN_FINE ||
		               run->sensors[i].remark == RUN_SILENT;
	free(all);
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
		return "far off: is it in that water?";
	}
	return "";
}
