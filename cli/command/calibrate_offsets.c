/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/calibrate_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/calibrate_source.h"
#include "cli/command/calibrate_state.h"
#include "cli/command/clock_options.h"
#include "cli/command/shown.h"
#include "cli/command/span.h"
#include "conf/value.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { MEASURE = 64, RUN_DEFAULT_S = 600, RUN_LEAST_S = 300 };

struct offsets {
	const struct session *session;
	int line;
	double true_c; /* NAN: the mean of all */
	double seconds;
	struct ledger_calibration row; /* what all have */
	char reference[128];           /* where none is told */
	struct calibrate_run run;
	struct calibrate_held *held; /* by channel; NULL without a ledger */
	bool entered;
};

/* --- the command line ------------------------------------------------------------------- */

static enum command_exit
read_true(const struct call *call, double *true_c)
{
	char measure[MEASURE];
	struct error error;

	*true_c = NAN;
	if (!call->option[OPTION_TRUE])
		return COMMAND_DONE;
	snprintf(measure, sizeof measure, "%s%s%s", call->option[OPTION_TRUE],
	    call->unit[OPTION_TRUE] ? " " : "",
	    call->unit[OPTION_TRUE] ? call->unit[OPTION_TRUE] : "");
	if (value_measure(measure, DIMENSION_TEMPERATURE, true_c, &error) == 0)
		return COMMAND_DONE;
	return command_usage(call, "'--true' is '%s': %s", measure, error.text);
}

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
		code = read_true(call, &offsets->true_c);
	if (code == COMMAND_DONE)
		code = read_for(call, &offsets->seconds);
	if (code == COMMAND_DONE)
		code = clock_options_read(call);
	return code == COMMAND_DONE ? calibrate_read_row(call, &offsets->row) : code;
}

/* --- the page ----------------------------------------------------------------------------- */

static void
put_sensor(struct page *page, const struct offsets *offsets,
    const struct calibrate_sensor *sensor)
{
	const struct settings *settings = offsets->session->settings;
	const struct calibrate_held *held =
	    offsets->held ? &offsets->held[sensor->channel] : NULL;
	char name[CALIBRATE_NAME];
	const char *remark = calibrate_run_remark_text(sensor->remark);
	struct cell told = cell_words(remark);
	enum dimension dimension = DIMENSION_TEMPERATURE;

	calibrate_name(settings, sensor->channel, name);
	told.tone = TONE_BAD;
	const struct cell cells[] = {
	    cell_words(name),
	    cell_count((int64_t)sensor->count),
	    shown_channel(settings, dimension, sensor->mean_c),
	    shown_channel_deviation(settings, dimension, sensor->sd_dc),
	    shown_channel_deviation(settings, dimension, sensor->drift_dc),
	    shown_channel_deviation(settings, dimension, sensor->offset_dc),
	    shown_channel_deviation(
		settings, DIMENSION_TEMPERATURE_DIFFERENCE, sensor->error_dc),
	    shown_channel_deviation(settings, dimension, held ? held->as_left : NAN),
	    cell_words(unit_text(settings->temperature)),
	    told,
	};
	page_row(page, cells);
}

static void
put_sensors(struct page *page, const struct offsets *offsets)
{
	const struct calibrate_run *run = &offsets->run;
	const struct column columns[] = {
	    {"channel", "channel", 0},
	    {"readings", "readings", 0},
	    {"mean_c", "mean", 0},
	    {"sd_dc", "s", 0},
	    {"drift_dc", "drift", 0},
	    {"offset_dc", "offset", 0},
	    {"offset_error_dc", "+-", 0},
	    {"until_now_dc", offsets->held ? "until now" : NULL, 0},
	    {NULL, "unit", 0},
	    {"remark", " ", 0},
	};

	page_table(page, "offsets",
	    "Offsets: shown minus true, +- one standard error; drift: over the run",
	    columns, COUNT(columns));
	for (size_t i = 0; i < run->sensor_count; i++)
		put_sensor(page, offsets, &run->sensors[i]);
	page_table_end(page);
}

static void
put_bounds(struct page *page, const struct settings *settings)
{
	enum dimension dimension = DIMENSION_TEMPERATURE;
	struct cell drift = shown_channel_deviation(settings, dimension, RUN_DRIFT_DC);
	struct cell sd = shown_channel_deviation(settings, dimension, RUN_SD_DC);
	struct cell far = shown_channel_deviation(settings, dimension, RUN_FAR_DC);
	const char *unit = unit_text(settings->temperature);

	page_note(page, NULL, TONE_FAINT,
	    "steady: no sensor drifts by more than %.2f %s over the run, has s above "
	    "%.2f %s or is %.1f %s off (common practice, no source).",
	    drift.shown, unit, sd.shown, unit, far.shown, unit);
}

/* What the run says, and does not. */
static void
put_judgement(struct page *page, const struct offsets *offsets)
{
	const struct calibrate_run *run = &offsets->run;

	if (!run->steady)
		page_note(page, "refused", TONE_BAD,
		    "not steady: nothing is entered. Let the water run without sheets "
		    "until all sensors have settled.");
	if (isnan(offsets->true_c))
		page_note(page, "common_error", TONE_PLAIN,
		    "against the mean of %zu sensors: what is common to all of them "
		    "stays unknown; --true tells what a reference thermometer says.",
		    run->used);
	put_bounds(page, offsets->session->settings);
	if (offsets->entered)
		page_note(page, NULL, TONE_GOOD,
		    "entered: readings are corrected by them from now on; shots on "
		    "file by 'evensoak recompute'.");
	else if (run->steady)
		page_note(page, NULL, TONE_PLAIN,
		    "nothing is entered: say --by NAME, without --dry-run.");
}

static enum command_exit
show(const struct call *call, const struct offsets *offsets, enum command_exit code)
{
	const struct settings *settings = offsets->session->settings;
	const struct calibrate_run *run = &offsets->run;
	struct page *page = command_page_of(call, "offsets");

	if (!page)
		return COMMAND_CANNOT;
	page_field(
	    page, "line", "line", cell_words(settings->lines[offsets->line].name));
	page_field(page, "lasts_s", "lasts s", cell_number(run->lasts_s, 0));
	struct cell true_cell =
	    shown_channel(settings, DIMENSION_TEMPERATURE, run->true_c);
	page_field(page, "true_c",
	    settings->temperature == UNIT_FAHRENHEIT ? "taken as true, F"
						     : "taken as true, C",
	    true_cell);
	page_field(page, "steady", NULL, cell_truth(run->steady));
	page_field(page, "entered", NULL, cell_truth(offsets->entered));
	put_sensors(page, offsets);
	put_judgement(page, offsets);
	return command_end_page(call, page, code);
}

/* --- entering ------------------------------------------------------------------------------ */

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
	if (!offsets->row.reference)
		snprintf(offsets->reference, sizeof offsets->reference,
		    isnan(offsets->true_c)
			? "water alone, the mean of %zu sensors"
			: "water alone, %zu sensors against a thermometer",
		    run->used);
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
			row->reference = offsets->reference;
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

static enum command_exit
judge_and_show(const struct call *call, struct offsets *offsets)
{
	struct calibrate_run *run = &offsets->run;
	struct error error;
	enum command_exit code;

	calibrate_run_judge(run, offsets->true_c);
	if (run->failed) {
		error_set(&error, ERROR_MEMORY, "out of memory, or too many readings");
		return command_cannot(call, &error);
	}
	if (run->used == 0) {
		fputs("evensoak: no tool or water sensor gave readings from beginning "
		      "to end\n",
		    call->err);
		return COMMAND_NO;
	}
	if (run->used == 1 && isnan(offsets->true_c))
		return command_usage(
		    call, "one sensor against its own mean tells nothing: say --true");
	if (offsets->session->ledger && !read_held(offsets, &error))
		return command_cannot(call, &error);
	code = run->steady ? COMMAND_DONE : COMMAND_NO;
	if (run->steady && call->option[OPTION_BY] && !call->option[OPTION_DRY_RUN])
		code = enter(call, offsets);
	if (code != COMMAND_DONE && code != COMMAND_NO)
		return code;
	return show(call, offsets, code);
}

enum command_exit
calibrate_offsets(const struct call *call, const struct session *session)
{
	struct offsets offsets = {.session = session};
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
