/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A run without sheets or heat, over which all tool and water sensors of a line see the
 * same temperature: whether it was steady, and how far each sensor is off.
 * Pure; one thread an object.
 */
#ifndef CLI_COMMAND_CALIBRATE_RUN_H
#define CLI_COMMAND_CALIBRATE_RUN_H

#include "conf/settings.h"

#include <stdbool.h>
#include <stddef.h>

/* The run in so many pieces; their means tell how sure a mean is, whatever the readings
 * of one piece have to do with each other. */
enum { RUN_PIECES = 10 };

enum run_remark {
	RUN_FINE,
	RUN_SILENT, /* no readings in some piece of the run: left out */
	RUN_DRIFTS, /* by more than RUN_DRIFT_DC over the run */
	RUN_NOISY,  /* a standard deviation above RUN_SD_DC */
	RUN_FAR,    /* more than RUN_FAR_DC off: hardly in that water */
};

/* Common practice, no source. */
#define RUN_DRIFT_DC 0.2
#define RUN_SD_DC 0.5
#define RUN_FAR_DC 5.0

struct calibrate_sensor {
	size_t channel; /* in the settings */
	double *t_s, *value_c;
	size_t count, room;
	/* once judged; NAN when silent */
	double mean_c, sd_dc;
	double drift_dc;            /* of a straight line through it, over the run */
	double offset_dc, error_dc; /* less what is true; its standard error */
	enum run_remark remark;
};

struct calibrate_run {
	struct calibrate_sensor *sensors;
	size_t sensor_count;
	bool failed; /* memory was short */
	/* once judged */
	double lasts_s;
	double true_c; /* as told, else the mean of all */
	size_t used;   /* sensors that are not silent */
	bool steady;   /* none of them has a remark */
};

/* The tool, supply and return sensors of a line; release in either case. */
void calibrate_run_init(
    struct calibrate_run *run, const struct settings *settings, int line);
void calibrate_run_release(struct calibrate_run *run);

/* NULL when the channel is none of them. */
struct calibrate_sensor *calibrate_run_find(struct calibrate_run *run, size_t channel);

/* Times ascend. */
void calibrate_run_add(struct calibrate_run *run, struct calibrate_sensor *sensor,
    double t_s, double value_c);

/* `true_c` NAN: the mean of all sensors. */
void calibrate_run_judge(struct calibrate_run *run, double true_c);

/* "drifts", "" when fine. */
const char *calibrate_run_remark_text(enum run_remark remark);

#endif
