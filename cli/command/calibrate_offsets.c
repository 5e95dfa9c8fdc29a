/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/calibrate_offsets.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/calibrate_parts.h"
#include "cli/command/calibrate_source.h"
#include "cli/command/calibrate_state.h"
#include "cli/command/clock_options.h"
#include "cli/command/number_option.h"
#include "cli/command/span.h"
#include "daemon/base/error.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { RUN_DEFAULT_S = 600 };

/* A run of five minutes that is read every second lasts a second less. */
static const double nearly = 0.99;

#define BOILING_C 100.0

/* --- the command line ------------------------------------------------------------------- */

static enum command_exit
read_for(const struct call *call, double *seconds)
{
	const char *text = call->option[OPTION_FOR];

	*seconds = RUN_DEFAULT_S;
	if (text && call->argument_count > 1)
		return command_usage(
		    call, "'--for' is of a live run: a file has its own length");
	if (text && !span_parse_seconds(text, seconds))
		return command_usage(
		    call, "'--for' is '%s', must be like 10m or 1h", text);
	if (*seconds < RUN_LEAST_S)
		return command_usage(call,
		    "'--for' is '%s': under 5m nobody can tell that it is steady",
		    text);
	return COMMAND_DONE;
}

static enum command_exit
read_options(const struct call *call, struct offsets *offsets)
{
	static const enum option_id of_entering[] = {
	    OPTION_DUE, OPTION_REFERENCE, OPTION_AT};
	enum command_exit code =
	    session_one_line(offsets->session, call, &offsets->line);

	for (size_t i = 0; i < COUNT(of_entering) && code == COMMAND_DONE; i++)
		if (call->option[of_entering[i]] && !call->option[OPTION_BY])
			code = command_usage(call,
			    "'--%s' is for what is entered: say --by NAME too",
			    option_table[of_entering[i]].name);
	if (code == COMMAND_DONE)
		code = measure_option(
		    call, OPTION_TRUE, DIMENSION_TEMPERATURE, &offsets->true_c);
	if (code == COMMAND_DONE)
		code = read_for(call, &offsets->seconds);
	if (code == COMMAND_DONE)
		code = clock_options_read(call);
	return code == COMMAND_DONE ? calibrate_read_row(call, &offsets->row) : code;
}

/* --- entering ------------------------------------------------------------------------------ */

/* What stands in for the instrument where none is told. */
static const char *
way_of(enum run_against against)
{
	switch (against) {
	case RUN_AGAINST_NOTHING:
		return "";
	case RUN_AGAINST_TOOLS:
		return "water alone, the median of the tool sensors";
	case RUN_AGAINST_RETURNS:
		return "water alone, the median of the returns";
	case RUN_AGAINST_WATER:
		return "water at hall temperature, the median of returns and supply";
	case RUN_AGAINST_TRUE:
		return "water alone, against a thermometer";
	}
	return "";
}

static enum command_exit
enter(const struct call *call, struct offsets *offsets)
{
	const struct settings *settings = offsets->session->settings;
	const struct calibrate_run *run = &offsets->run;
	struct ledger_calibration *rows = calloc(run->sensor_count, sizeof *rows);
	size_t count = 0;
	struct error error;

	if (!rows) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	for (size_t i = 0; i < run->sensor_count; i++) {
		const struct calibrate_sensor *sensor = &run->sensors[i];
		const struct channel_settings *channel =
		    &settings->channels[sensor->channel];
		if (sensor->remark != RUN_FINE)
			continue;
		struct ledger_calibration *row = &rows[count++];
		*row = offsets->row;
		row->line = settings->lines[offsets->line].name;
		row->device = settings->devices[channel->device].name;
		row->channel = channel->name;
		row->as_found = row->as_left = sensor->offset_dc;
		if (!row->reference)
			row->reference = way_of(sensor->against);
	}
	enum command_exit code = calibrate_put(call, offsets->session, rows, count);
	offsets->entered = code == COMMAND_DONE;
	free(rows);
	return code;
}

/* What is corrected for until now. */
static bool
read_held(struct offsets *offsets, struct error *error)
{
	const struct session *session = offsets->session;

	offsets->held =
	    calloc(session->settings->channel_count + 1, sizeof *offsets->held);
	if (!offsets->held) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return false;
	}
	return calibrate_state_read(offsets->held, session->ledger, session->settings,
		   offsets->line, offsets->row.at, error) == 0;
}

/* Water above its boiling point in a column without " F" is Fahrenheit, but where the
 * thermometer says the same. */
static enum command_exit
check_unit(const struct call *call, const struct offsets *offsets)
{
	const struct calibrate_run *run = &offsets->run;

	for (size_t i = 0; i < run->sensor_count && call->argument_count > 1; i++) {
		const struct calibrate_sensor *sensor = &run->sensors[i];
		char name[CALIBRATE_NAME];
		struct error error;
		if (!(sensor->mean_c > BOILING_C) || offsets->true_c > BOILING_C)
			continue;
		calibrate_name(offsets->session->settings, sensor->channel, name);
		error_set(&error, ERROR_INVALID,
		    "'%s': '%s' is %.1f C, and water boils at 100 C: a column in F has "
		    "the title '%s F'; for water under pressure say --true",
		    call->argument[1], name, sensor->mean_c, name);
		return command_cannot(call, &error);
	}
	return COMMAND_DONE;
}

static enum command_exit
judge(const struct call *call, struct offsets *offsets)
{
	struct calibrate_run *run = &offsets->run;
	struct error error;

	calibrate_run_judge(run, offsets->true_c);
	if (run->failed) {
		error_set(&error, ERROR_MEMORY, "out of memory, or too many readings");
		return command_cannot(call, &error);
	}
	offsets->long_enough =
	    call->argument_count < 2 || run->lasts_s >= nearly * RUN_LEAST_S;
	for (size_t i = 0; i < run->sensor_count; i++)
		if (run->sensors[i].remark != RUN_SILENT)
			return check_unit(call, offsets);
	fputs("evensoak: no tool or water sensor gave readings from beginning to end\n",
	    call->err);
	return COMMAND_NO;
}

static enum command_exit
judge_and_show(const struct call *call, struct offsets *offsets)
{
	const struct calibrate_run *run = &offsets->run;
	struct error error;
	enum command_exit code = judge(call, offsets);

	if (code != COMMAND_DONE)
		return code;
	if (offsets->session->ledger && !read_held(offsets, &error))
		return command_cannot(call, &error);
	bool good = run->steady && run->known > 0 && offsets->long_enough;
	code = good ? COMMAND_DONE : COMMAND_NO;
	if (good && call->option[OPTION_BY] && !call->option[OPTION_DRY_RUN])
		code = enter(call, offsets);
	if (code != COMMAND_DONE && code != COMMAND_NO)
		return code;
	return calibrate_offsets_show(call, offsets, code);
}

enum command_exit
calibrate_offsets(const struct call *call, const struct session *session)
{
	struct offsets offsets = {.session = session, .true_c = NAN};
	struct calibrate_run *run = &offsets.run;
	enum command_exit code = read_options(call, &offsets);

	if (code != COMMAND_DONE)
		return code;
	calibrate_run_init(run, session->settings, offsets.line);
	if (run->sensor_count == 0)
		code = command_usage(call, "line %s has no tool or water sensors",
		    session->settings->lines[offsets.line].name);
	else if (call->argument_count > 1)
		code = calibrate_read_file(
		    call, session->settings, call->argument[1], run);
	else
		code = calibrate_read_line(
		    call, session->settings, offsets.line, offsets.seconds, run);
	if (code == COMMAND_DONE)
		code = judge_and_show(call, &offsets);
	calibrate_run_release(run);
	free(offsets.held);
	return code;
}
