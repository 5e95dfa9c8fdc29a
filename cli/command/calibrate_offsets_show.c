/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/calibrate_offsets.h"

#include <math.h>

#include "cli/command/calibrate_state.h"
#include "cli/wording/shown.h"
#include "daemon/base/calendar.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { NAMES = 4096 };

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
	    shown_name(calibrate_run_against_text(sensor->against)),
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
	    {"against", "against", 0},
	    {"remark", " ", 0},
	};

	page_table(page, "offsets",
	    "Offsets: shown less what it is held against, +- one standard error; "
	    "drift: "
	    "over the run",
	    columns, COUNT(columns));
	for (size_t i = 0; i < run->sensor_count; i++)
		if (run->sensors[i].count > 0)
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
	    "%.2f %s; %.1f %s off is far (common practice, no source).",
	    drift.shown, unit, sd.shown, unit, far.shown, unit);
}

/* In the file there is no such column, or the line gave nothing. */
static void
put_unread(struct page *page, const struct offsets *offsets)
{
	const struct calibrate_run *run = &offsets->run;
	struct text names;
	char name[CALIBRATE_NAME];

	text_init(&names, NAMES);
	for (size_t i = 0; i < run->sensor_count; i++) {
		if (run->sensors[i].count > 0)
			continue;
		calibrate_name(
		    offsets->session->settings, run->sensors[i].channel, name);
		text_printf(&names, "%s%s", names.length ? ", " : "", name);
	}
	if (names.length > 0 && names.bytes)
		page_note(page, "no_readings", TONE_PLAIN, "no readings of: %s.",
		    names.bytes);
	text_release(&names);
}

static void
put_left_out(struct page *page, const struct offsets *offsets)
{
	const struct calibrate_run *run = &offsets->run;
	char name[CALIBRATE_NAME];

	for (size_t i = 0; i < run->sensor_count; i++) {
		if (run->sensors[i].remark != RUN_FAR)
			continue;
		calibrate_name(
		    offsets->session->settings, run->sensors[i].channel, name);
		page_note(page, NULL, TONE_BAD,
		    "%s is far off: left out. Is it in that water, is it broken?",
		    name);
	}
}

/* Heat on the way through the tool, or the error of sensors. */
static void
put_water(struct page *page, const struct offsets *offsets, int side)
{
	const struct settings *settings = offsets->session->settings;
	const struct line_settings *line = &settings->lines[offsets->line];
	const struct run_water *water = &offsets->run.water[side];
	const char *unit = unit_text(settings->temperature);
	enum dimension dimension = DIMENSION_TEMPERATURE;
	bool told = !isnan(offsets->true_c);

	if (isnan(water->return_dc))
		return;
	struct cell returns =
	    shown_channel_deviation(settings, dimension, water->return_dc);
	const char *meaning =
	    water->at_hall ? "the water is at hall temperature and loses no heat: that "
			     "is the sensors' error"
	    : told && water->flows
		? "that looks like heat lost to the hall, and --true enters it as an "
		  "error of the returns: right only where the thermometer was at each"
	    : told ? "held against --true"
	    : water->flows
		? "that is heat lost to the hall and the sensors' common error, which "
		  "nobody can tell apart while the water is not at hall temperature: "
		  "it is not corrected"
		: "within the supply's scatter; it is not corrected, as the water is "
		  "not at hall temperature";
	page_note(page, NULL, told && water->flows ? TONE_BAD : TONE_PLAIN,
	    "%s%sthe returns are %.2f %s %s the supply: %s.", line->sides[side],
	    *line->sides[side] ? ": " : "", fabs(returns.shown), unit,
	    water->return_dc < 0 ? "below" : "above", meaning);
	if (isnan(water->tool_dc))
		return;
	struct cell tool = shown_channel_deviation(settings, dimension, water->tool_dc);
	page_note(page, NULL, TONE_PLAIN,
	    "%s%sthe tool sensors are %.2f %s %s the supply: told, %s.",
	    line->sides[side], *line->sides[side] ? ": " : "", fabs(tool.shown), unit,
	    water->tool_dc < 0 ? "below" : "above",
	    told ? "and in the offsets" : "not corrected");
}

/* What can be known of such a run. */
static void
put_physics(struct page *page, const struct offsets *offsets)
{
	const struct settings *settings = offsets->session->settings;
	const struct calibrate_run *run = &offsets->run;
	int sides = settings->lines[offsets->line].side_count;

	for (int side = 0; side < sides && side < SETTINGS_SIDES; side++)
		put_water(page, offsets, side);
	if (!isnan(offsets->true_c))
		return;
	page_note(page, "common_error", TONE_PLAIN,
	    "tool sensors are held against their own median, returns against theirs, "
	    "taken to be alike: what one circuit or edge loses more than another is in "
	    "it, and what is common to all of them stays unknown. Returns and supply "
	    "are held against each other only with the water within 2 K of the hall's "
	    "air; --true tells what a thermometer in the water says.");
	if (isnan(run->hall_c))
		page_note(page, NULL, TONE_PLAIN,
		    "the hall's temperature is not known: no reading of an ambient "
		    "channel.");
}

static void
put_entered(struct page *page, const struct offsets *offsets)
{
	const struct wall at = offsets->row.at;
	char from[CALENDAR_TEXT];

	calendar_local_text(at, from);
	page_note(page, NULL, TONE_GOOD,
	    "entered: readings from %s on are corrected by them%s.", from,
	    at.ns < offsets->row.entered.ns
		? "; shots since then that are on file only by 'evensoak recompute'"
		: "");
}

static void
put_judgement(struct page *page, const struct offsets *offsets)
{
	const struct calibrate_run *run = &offsets->run;

	put_unread(page, offsets);
	put_left_out(page, offsets);
	if (!offsets->long_enough)
		page_note(page, "too_short", TONE_BAD,
		    "the run lasts %.0f s: under 5 min nobody can tell that it is "
		    "steady; nothing is entered.",
		    run->lasts_s);
	if (!run->steady)
		page_note(page, "refused", TONE_BAD,
		    "not steady: nothing is entered. Let the water run without sheets "
		    "until all sensors have settled.");
	else if (run->known == 0)
		page_note(page, "nothing_known", TONE_BAD,
		    "no sensor has another that must read the same: say --true.");
	put_physics(page, offsets);
	put_bounds(page, offsets->session->settings);
	if (offsets->entered)
		put_entered(page, offsets);
	else if (run->steady && offsets->long_enough && run->known > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "nothing is entered: say --by NAME, without --dry-run.");
}

enum command_exit
calibrate_offsets_show(
    const struct call *call, const struct offsets *offsets, enum command_exit code)
{
	const struct settings *settings = offsets->session->settings;
	const struct calibrate_run *run = &offsets->run;
	struct page *page = command_page_of(call, "offsets");

	if (!page)
		return COMMAND_CANNOT;
	page_field(
	    page, "line", "line", cell_words(settings->lines[offsets->line].name));
	page_field(page, "lasts_s", "lasts s", cell_number(run->lasts_s, 0));
	const char *label = settings->temperature == UNIT_FAHRENHEIT
	                        ? "taken as true, F"
	                        : "taken as true, C";
	page_field(page, "true_c", isnan(offsets->true_c) ? NULL : label,
	    shown_channel(settings, DIMENSION_TEMPERATURE, offsets->true_c));
	page_field(page, "hall_c", NULL,
	    shown_channel(settings, DIMENSION_TEMPERATURE, run->hall_c));
	page_field(page, "steady", NULL, cell_truth(run->steady));
	page_field(page, "entered", NULL, cell_truth(offsets->entered));
	put_sensors(page, offsets);
	put_judgement(page, offsets);
	return command_end_page(call, page, code);
}
