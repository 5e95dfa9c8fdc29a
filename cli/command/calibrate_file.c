/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/calibrate_source.h"

#include <math.h>
#include <stdlib.h>

#include "cli/command/calibrate_state.h"
#include "cli/csv/csv_column.h"
#include "cli/command/session.h"
#include "daemon/base/error.h"
#include "daemon/base/unit.h"

enum { TITLE = CALIBRATE_NAME + 2 };

/* The columns that are looked for: t_s, then two a sensor, one in C and one in F. */
struct wanted {
	struct csv_wanted list[CSV_WANTED];
	char titles[CSV_WANTED][TITLE];
	size_t count;
	struct csv_columns columns;
	struct problems problems;
};

static void
want_sensors(struct wanted *wanted, const struct settings *settings,
    const struct calibrate_run *run)
{
	wanted->list[wanted->count++] = (struct csv_wanted){
	    .name = "t_s", .required = true, .filled = true, .ascending = true};
	for (size_t i = 0; i < run->sensor_count + run->hall_count; i++) {
		char name[CALIBRATE_NAME];
		calibrate_name(settings, run->sensors[i].channel, name);
		for (int f = 0; f < 2 && wanted->count < CSV_WANTED; f++) {
			char *title = wanted->titles[wanted->count];
			snprintf(title, TITLE, "%s%s", name, f ? " F" : "");
			wanted->list[wanted->count++].name = title;
		}
	}
}

/* Returns how many columns there were. */
static int
take_columns(const struct wanted *wanted, struct calibrate_run *run)
{
	const struct csv_columns *columns = &wanted->columns;
	int found = 0;

	for (size_t column = 1; column < wanted->count; column++) {
		const double *values = columns->values[column];
		struct calibrate_sensor *sensor = &run->sensors[(column - 1) / 2];
		enum unit unit = column % 2 ? UNIT_CELSIUS : UNIT_FAHRENHEIT;
		if (!values || sensor->count > 0)
			continue;
		found += (column - 1) / 2 < run->sensor_count;
		for (size_t i = 0; i < columns->count; i++)
			if (!isnan(values[i]))
				calibrate_run_add(run, sensor, columns->values[0][i],
				    unit_to_si(unit, DIMENSION_TEMPERATURE, values[i]));
	}
	return found;
}

enum command_exit
calibrate_read_file(const struct call *call, const struct settings *settings,
    const char *path, struct calibrate_run *run)
{
	struct wanted *wanted = calloc(1, sizeof *wanted);
	enum command_exit code = COMMAND_DONE;
	struct error error;

	if (!wanted) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	want_sensors(wanted, settings, run);
	if (!csv_columns_read(&wanted->columns, path, stdin, wanted->list,
		wanted->count, &wanted->problems)) {
		session_tell_problems(call, &wanted->problems);
		code = COMMAND_CANNOT;
	} else if (take_columns(wanted, run) == 0) {
		error_set(&error, ERROR_INVALID,
		    "'%s' has no column of a tool or water sensor, such as '%s'", path,
		    wanted->titles[1]);
		code = command_cannot(call, &error);
	}
	csv_columns_release(&wanted->columns);
	free(wanted);
	return code;
}
