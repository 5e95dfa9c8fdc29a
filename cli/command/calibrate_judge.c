/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/calibrate_run.h"

#include <math.h>
#include <stdlib.h>

/* --- of one sensor ------------------------------------------------------------------ */

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

static void
measure(struct calibrate_run *run, struct pieces *all)
{
	double from_s;

	find_span(run, &from_s, &run->lasts_s);
	for (size_t i = 0; i < run->sensor_count + run->hall_count; i++) {
		struct calibrate_sensor *sensor = &run->sensors[i];
		sensor->mean_c = sensor->sd_dc = sensor->drift_dc = NAN;
		sensor->offset_dc = sensor->error_dc = NAN;
		sensor->against = RUN_AGAINST_NOTHING;
		sensor->remark = RUN_SILENT;
		if (!(run->lasts_s > 0))
			continue;
		all[i] = cut(sensor, from_s, run->lasts_s);
		if (isnan(mean_of(all[i].mean_c, RUN_PIECES)))
			continue;
		sensor->remark = RUN_ALONE;
		sensor->mean_c = mean_reading(sensor);
		sensor->sd_dc = sd_of(sensor->value_c, sensor->count, sensor->mean_c);
		sensor->drift_dc = drift_of(sensor, sensor->mean_c, run->lasts_s);
	}
}

/* --- of those that must read the same ------------------------------------------------ */

/* Tool sensors, returns or supplies of one side; what is common to all sides is of each. */
struct kin {
	bool roles[ROLE_COUNT];
	int side; /* -1: of any */
};

static bool
is_kin(const struct kin *kin, const struct calibrate_sensor *sensor)
{
	return kin->roles[sensor->role] &&
	       (kin->side < 0 || sensor->side < 0 || sensor->side == kin->side);
}

static bool
is_used(const struct calibrate_sensor *sensor)
{
	return sensor->remark != RUN_SILENT && sensor->remark != RUN_FAR;
}

static int
ascending(const void *a, const void *b)
{
	double left = *(const double *)a, right = *(const double *)b;

	return (left > right) - (left < right);
}

static double
median(double *values, size_t count)
{
	if (count == 0)
		return NAN;
	qsort(values, count, sizeof *values, ascending);
	return (values[(count - 1) / 2] + values[count / 2]) / 2;
}

/* The median of the means (pieces NULL) or of one piece; `room` holds all sensors. */
static double
median_of(const struct calibrate_run *run, const struct kin *kin,
    const struct pieces *pieces, int piece, double *room, size_t *count)
{
	size_t used = 0;

	for (size_t i = 0; i < run->sensor_count; i++)
		if (is_used(&run->sensors[i]) && is_kin(kin, &run->sensors[i]))
			room[used++] =
			    pieces ? pieces[i].mean_c[piece] : run->sensors[i].mean_c;
	if (count)
		*count = used;
	return median(room, used);
}

/* Two of which nobody knows which one is off: both. */
static void
leave_out_far(
    struct calibrate_run *run, const struct kin *kin, double true_c, double *room)
{
	size_t count;
	double centre_c = median_of(run, kin, NULL, 0, room, &count);
	double most_dc = isnan(true_c) && count == 2 ? RUN_FAR_DC / 2 : RUN_FAR_DC;

	centre_c = isnan(true_c) ? centre_c : true_c;
	for (size_t i = 0; i < run->sensor_count; i++) {
		struct calibrate_sensor *sensor = &run->sensors[i];
		if (is_used(sensor) && is_kin(kin, sensor) &&
		    fabs(sensor->mean_c - centre_c) > most_dc)
			sensor->remark = RUN_FAR;
	}
}

/* Piece by piece: the water's own waves drop out. */
static void
compare(struct calibrate_run *run, const struct kin *kin, enum run_against against,
    const struct pieces *all, double true_c, double *room)
{
	struct pieces truth;
	size_t count = 0;

	for (int k = 0; k < RUN_PIECES; k++) {
		truth.mean_c[k] = median_of(run, kin, all, k, room, &count);
		if (!isnan(true_c))
			truth.mean_c[k] = true_c;
	}
	if (count < 2 && isnan(true_c))
		return;
	for (size_t i = 0; i < run->sensor_count; i++) {
		struct calibrate_sensor *sensor = &run->sensors[i];
		double off[RUN_PIECES];
		if (!is_used(sensor) || !is_kin(kin, sensor))
			continue;
		for (int k = 0; k < RUN_PIECES; k++)
			off[k] = all[i].mean_c[k] - truth.mean_c[k];
		sensor->offset_dc = mean_of(off, RUN_PIECES);
		sensor->error_dc =
		    sd_of(off, RUN_PIECES, sensor->offset_dc) / sqrt(RUN_PIECES);
		sensor->against = against;
		sensor->remark = RUN_FINE;
	}
}

/* --- the water ------------------------------------------------------------------------- */

static const struct kin tools = {.roles[ROLE_TOOL] = true},
			returns = {.roles[ROLE_WATER_RETURN] = true},
			supplies = {.roles[ROLE_WATER_SUPPLY] = true},
			water = {.roles[ROLE_WATER_RETURN] = true,
			    .roles[ROLE_WATER_SUPPLY] = true},
			every = {.roles[ROLE_TOOL] = true,
			    .roles[ROLE_WATER_RETURN] = true,
			    .roles[ROLE_WATER_SUPPLY] = true};

static struct kin
of_side(struct kin kin, int side)
{
	kin.side = side;
	return kin;
}

static double
supply_scatter(const struct calibrate_run *run, int side)
{
	const struct kin kin = of_side(supplies, side);
	double most_dc = 0;

	for (size_t i = 0; i < run->sensor_count; i++)
		if (is_used(&run->sensors[i]) && is_kin(&kin, &run->sensors[i]))
			most_dc = fmax(most_dc, run->sensors[i].sd_dc);
	return most_dc;
}

static bool
all_on_one_side(const struct calibrate_run *run, int side, double supply_c)
{
	const struct kin kin = of_side(returns, side);
	size_t above = 0, below = 0;

	for (size_t i = 0; i < run->sensor_count; i++) {
		const struct calibrate_sensor *sensor = &run->sensors[i];
		if (!is_used(sensor) || !is_kin(&kin, sensor))
			continue;
		above += sensor->mean_c > supply_c;
		below += sensor->mean_c < supply_c;
	}
	return (above == 0) != (below == 0);
}

static struct run_water
see_water(const struct calibrate_run *run, int side, double *room)
{
	const struct kin of_supply = of_side(supplies, side),
			 of_returns = of_side(returns, side),
			 of_tools = of_side(tools, side),
			 of_water = of_side(water, side);
	double water_c = median_of(run, &of_water, NULL, 0, room, NULL);
	struct run_water seen;

	seen.supply_c = median_of(run, &of_supply, NULL, 0, room, NULL);
	seen.return_dc =
	    median_of(run, &of_returns, NULL, 0, room, NULL) - seen.supply_c;
	seen.tool_dc = median_of(run, &of_tools, NULL, 0, room, NULL) - seen.supply_c;
	seen.at_hall = fabs(water_c - run->hall_c) <= RUN_HALL_DC;
	seen.flows = fabs(seen.return_dc) > supply_scatter(run, side) &&
	             all_on_one_side(run, side, seen.supply_c);
	return seen;
}

/* A supply that is common to both sides makes their water one. */
static bool
is_common_supply(const struct calibrate_run *run)
{
	for (size_t i = 0; i < run->sensor_count; i++)
		if (run->sensors[i].role == ROLE_WATER_SUPPLY &&
		    run->sensors[i].side < 0)
			return true;
	return false;
}

static double
hall_of(const struct calibrate_run *run)
{
	double sum = 0;
	int count = 0;

	for (size_t i = 0; i < run->hall_count; i++) {
		const struct calibrate_sensor *hall =
		    &run->sensors[run->sensor_count + i];
		if (hall->remark == RUN_SILENT)
			continue;
		sum += hall->mean_c;
		count++;
	}
	return count > 0 ? sum / count : NAN;
}

static void
compare_side(
    struct calibrate_run *run, int side, const struct pieces *all, double *room)
{
	const struct kin of_tools = of_side(tools, side),
			 of_returns = of_side(returns, side);
	const struct kin of_water = of_side(water, is_common_supply(run) ? -1 : side);

	leave_out_far(run, &of_tools, NAN, room);
	leave_out_far(run, &of_returns, NAN, room);
	run->water[side] = see_water(run, side, room);
	if (run->water[side].at_hall)
		leave_out_far(run, &of_water, NAN, room);
	compare(run, &of_tools, RUN_AGAINST_TOOLS, all, NAN, room);
	if (run->water[side].at_hall)
		compare(run, &of_water, RUN_AGAINST_WATER, all, NAN, room);
	else
		compare(run, &of_returns, RUN_AGAINST_RETURNS, all, NAN, room);
}

/* A sensor that moves tells of water that has not settled, whatever it is held against. */
static void
sum_up(struct calibrate_run *run)
{
	run->used = run->known = 0;
	run->steady = true;
	for (size_t i = 0; i < run->sensor_count; i++) {
		struct calibrate_sensor *sensor = &run->sensors[i];
		if (!is_used(sensor))
			continue;
		run->used++;
		run->known += sensor->remark == RUN_FINE;
		if (!(fabs(sensor->drift_dc) <= RUN_DRIFT_DC))
			sensor->remark = RUN_DRIFTS;
		else if (sensor->sd_dc > RUN_SD_DC)
			sensor->remark = RUN_NOISY;
		run->steady &=
		    sensor->remark != RUN_DRIFTS && sensor->remark != RUN_NOISY;
	}
	run->steady &= run->used > 0;
}

void
calibrate_run_judge(struct calibrate_run *run, double true_c)
{
	size_t count = run->sensor_count + run->hall_count;
	struct pieces *all = calloc(count + 1, sizeof *all);
	double *room = calloc(count + 1, sizeof *room);
	const struct kin of_all = of_side(every, -1);

	run->failed |= !all || !room;
	if (all && room) {
		measure(run, all);
		run->hall_c = hall_of(run);
		if (!isnan(true_c)) {
			leave_out_far(run, &of_all, true_c, room);
			compare(run, &of_all, RUN_AGAINST_TRUE, all, true_c, room);
		}
		for (int side = 0; side < SETTINGS_SIDES; side++) {
			if (isnan(true_c))
				compare_side(run, side, all, room);
			else
				run->water[side] = see_water(run, side, room);
		}
		sum_up(run);
	}
	free(all);
	free(room);
}
