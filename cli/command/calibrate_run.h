/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A run without sheets or heat, with the water running: whether it was steady, and how far
 * each tool and water sensor of a line is off.
 *
 * Sensors of one kind on one side see the same temperature.  Between supply and return the
 * water loses heat to the hall through the tool: that difference is no error of sensors,
 * unless the water is at hall temperature.
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
	RUN_FAR,    /* more than RUN_FAR_DC off: hardly in that water, left out */
	RUN_ALONE,  /* nothing that must read the same: its offset is not known */
};

/* What a sensor is held against: the median of those that must read the same. */
enum run_against {
	RUN_AGAINST_NOTHING,
	RUN_AGAINST_TOOLS,   /* the tool sensors of its side */
	RUN_AGAINST_RETURNS, /* the returns of its side */
	RUN_AGAINST_WATER,   /* returns and supply: the water is at hall temperature */
	RUN_AGAINST_TRUE,    /* what was told */
};

/* Common practice, no source. */
#define RUN_DRIFT_DC 0.2
#define RUN_SD_DC 0.5
#define RUN_FAR_DC 5.0
#define RUN_HALL_DC \
	2.0 /* water this near the hall's air neither gains nor loses heat */

struct calibrate_sensor {
	size_t channel; /* in the settings */
	enum role role;
	int side; /* -1: common to all */
	double *t_s, *value_c;
	size_t count, room;
	/* once judged; NAN when silent */
	double mean_c, sd_dc;
	double drift_dc; /* of a straight line through it, over the run */
	double offset_dc,
	    error_dc; /* less what it is held against; its standard error */
	enum run_against against;
	enum run_remark remark;
};

/* The water of one side: what it does on its way through the tool is heat, the error of
 * sensors or both.  NAN: no such sensors. */
struct run_water {
	double supply_c;
	double return_dc, tool_dc; /* medians less the supply */
	bool at_hall;              /* within RUN_HALL_DC of the hall */
	bool
	    flows; /* all returns on one side of the supply, by more than its scatter */
};

struct calibrate_run {
	struct calibrate_sensor *sensors; /* the hall's last */
	size_t sensor_count;              /* without the hall */
	size_t hall_count;
	bool failed; /* memory was short */
	/* once judged */
	double lasts_s;
	double hall_c; /* NAN: not known */
	size_t used;   /* sensors that are neither silent nor far off */
	size_t known;  /* those of them with an offset */
	bool steady;   /* none of the used drifts or is noisy */
	struct run_water water[SETTINGS_SIDES];
};

/* The tool, supply and return sensors of a line, and the hall's; release in either case. */
void calibrate_run_init(
    struct calibrate_run *run, const struct settings *settings, int line);
void calibrate_run_release(struct calibrate_run *run);

/* NULL when the channel is none of them. */
struct calibrate_sensor *calibrate_run_find(struct calibrate_run *run, size_t channel);

/* Times ascend. */
void calibrate_run_add(struct calibrate_run *run, struct calibrate_sensor *sensor,
    double t_s, double value_c);

/* `true_c` NAN: against the medians of those that must read the same. */
void calibrate_run_judge(struct calibrate_run *run, double true_c);

/* "drifts", "" when fine. */
const char *calibrate_run_remark_text(enum run_remark remark);

/* "the returns of its side", "" for none. */
const char *calibrate_run_against_text(enum run_against against);

#endif
