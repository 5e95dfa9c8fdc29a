/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_tool.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/picture/tool_picture.h"
#include "cli/report/report_picture.h"
#include "cli/report/report_words.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { DESCRIPTION = 2048 };

static const struct {
	int feature;
	const char *name;
} spreads[TOOL_SPREADS] = {
    {FEATURE_TOOL_SPREAD_MEAN_DC, "spread at one instant"},
    {FEATURE_TOOL_SPREAD_OF_MEANS_DC, "spread of the means"},
    {FEATURE_TOOL_SWING_DC, "swing within a shot"},
};

/* Arrays of a value a shot. */
struct bands {
	size_t count;
	double *coldest, *mean, *hottest, *spread[TOOL_SPREADS], *one;
	bool *breaks;
	size_t sensors; /* that any shot has a value of */
};

static bool
bands_make(struct bands *bands, size_t count)
{
	double **lists[] = {&bands->coldest, &bands->mean, &bands->hottest,
	    &bands->spread[0], &bands->spread[1], &bands->spread[2], &bands->one};
	bool made = true;

	*bands = (struct bands){.count = count};
	for (size_t i = 0; i < sizeof lists / sizeof lists[0]; i++) {
		*lists[i] = calloc(count, sizeof **lists[i]);
		made &= *lists[i] != NULL;
	}
	bands->breaks = calloc(count, sizeof *bands->breaks);
	return made && bands->breaks;
}

static void
bands_release(struct bands *bands)
{
	free(bands->coldest);
	free(bands->mean);
	free(bands->hottest);
	for (size_t i = 0; i < TOOL_SPREADS; i++)
		free(bands->spread[i]);
	free(bands->one);
	free(bands->breaks);
}

/* One sensor's mean of each shot; in the unit that is shown. */
static void
add_sensor(struct bands *bands, const struct report_line *line, const struct run *wide,
    int feature, double *counts)
{
	bool there = false;

	run_series(wide, feature, false, bands->one, bands->breaks);
	for (size_t i = 0; i < bands->count; i++) {
		if (!isfinite(bands->one[i]))
			continue;
		double value =
		    shown_value(line->settings, feature, bands->one[i]).shown;
		bands->coldest[i] = fmin(bands->coldest[i], value);
		bands->hottest[i] = fmax(bands->hottest[i], value);
		bands->mean[i] += value;
		counts[i]++;
		there = true;
	}
	bands->sensors += there;
}

static bool
bands_fill(struct bands *bands, const struct report_line *line, const struct run *wide)
{
	double *counts = calloc(bands->count, sizeof *counts);

	if (!counts)
		return false;
	for (size_t i = 0; i < bands->count; i++)
		bands->coldest[i] = bands->hottest[i] = NAN; /* fmin passes NAN over */
	for (int i = 0; i < line->layout->tools; i++)
		add_sensor(bands, line, wide, FEATURE_TOOL_MEAN_FIRST + i, counts);
	for (size_t i = 0; i < bands->count; i++)
		bands->mean[i] = counts[i] > 0 ? bands->mean[i] / counts[i] : NAN;
	for (size_t k = 0; k < TOOL_SPREADS; k++) {
		run_series(wide, spreads[k].feature, false, bands->one, bands->breaks);
		for (size_t i = 0; i < bands->count; i++)
			bands->spread[k][i] =
			    isfinite(bands->one[i])
				? shown_value(
				      line->settings, spreads[k].feature, bands->one[i])
				      .shown
				: NAN;
	}
	free(counts);
	return true;
}

static double
upper_limit(const struct report_line *line, const struct run *run, int feature)
{
	double lower, upper;

	judgement_limits(settings_limit(line->settings, feature,
			     population_recipe(run->recipe), run->tool),
	    feature, &lower, &upper);
	return isfinite(upper) ? shown_value(line->settings, feature, upper).shown
	                       : NAN;
}

static void
describe_tool(struct text *text, const struct bands *bands, const char *unit)
{
	double coldest = NAN, hottest = NAN, sum = 0;
	size_t there = 0;

	for (size_t i = 0; i < bands->count; i++) {
		coldest = fmin(coldest, bands->coldest[i]);
		hottest = fmax(hottest, bands->hottest[i]);
		if (isfinite(bands->mean[i])) {
			sum += bands->mean[i];
			there++;
		}
	}
	text_printf(text,
	    "The %zu sensor%s of the tool over %zu shot%s: a band from the coldest to "
	    "the "
	    "hottest sensor's mean of a shot, with the mean of all. The means lie "
	    "between %.1f and %.1f %s, their mean is %.1f %s. Below it three spreads: "
	    "between the sensors at one instant, between their means of a shot, and "
	    "the "
	    "swing of a sensor within a shot.",
	    bands->sensors, bands->sensors == 1 ? "" : "s", there,
	    there == 1 ? "" : "s", coldest, hottest, unit, sum / (double)there, unit);
}

/* The three of them, over the shots. */
static void
describe_spreads(struct text *text, const struct tool_picture *what, const char *unit)
{
	for (size_t k = 0; k < TOOL_SPREADS; k++) {
		double sum = 0, last = NAN;
		size_t there = 0;
		for (size_t i = 0; i < what->count; i++)
			if (isfinite(what->spread[k][i])) {
				last = what->spread[k][i];
				sum += last;
				there++;
			}
		if (there == 0)
			continue;
		text_printf(text, " The %s is %.2f %s on average and %.2f %s at last",
		    what->spread_name[k], sum / (double)there, unit, last, unit);
		if (isfinite(what->spread_limit[k]))
			text_printf(text, "; its limit is %.2f %s",
			    what->spread_limit[k], unit);
		text_puts(text, ".");
	}
}

static int
draw(const struct report_line *line, const struct run *run, const struct run *wide,
    const struct bands *bands, struct error *error)
{
	const char *unit = shown_unit(line->settings, FEATURE_TOOL_MEAN_C),
		   *difference =
		       shown_unit(line->settings, FEATURE_TOOL_SPREAD_MEAN_DC);
	char heading[LEDGER_NAME + 64], y[64], spread[64], name[PICTURE_NAME];
	struct text words;
	struct report_marks *marks = calloc(1, sizeof *marks);

	if (!marks)
		return error_set(error, ERROR_MEMORY, "out of memory");
	int code = report_marks_make(marks, line, wide, error);
	snprintf(heading, sizeof heading, "tool %s: its sensors",
	    *run->tool ? run->tool : "unknown");
	snprintf(y, sizeof y, "temperature, %s", unit);
	snprintf(spread, sizeof spread, "difference, %s", difference);
	report_picture_name(line, run, "tool", name);
	struct tool_picture what = {
	    .heading = heading,
	    .y_label = y,
	    .spread_label = spread,
	    .count = bands->count,
	    .coldest = bands->coldest,
	    .mean = bands->mean,
	    .hottest = bands->hottest,
	    .marks = marks->marks,
	    .mark_count = marks->mark_count,
	    .ticks = marks->ticks,
	    .tick_count = marks->tick_count,
	};
	for (size_t k = 0; k < TOOL_SPREADS; k++) {
		what.spread_name[k] = spreads[k].name;
		what.spread[k] = bands->spread[k];
		what.spread_limit[k] = upper_limit(line, run, spreads[k].feature);
	}
	text_init(&words, DESCRIPTION);
	describe_tool(&words, bands, unit);
	describe_spreads(&words, &what, difference);
	const struct picture picture = tool_picture_make(
	    &what, name, "the tool's sensors", words.bytes ? words.bytes : "");
	if (code == 0)
		page_picture(line->page, &picture, NULL);
	text_release(&words);
	free(marks);
	return code;
}

int
report_tool_put(const struct report_line *line, const struct run *run,
    const struct run *wide, struct error *error)
{
	struct bands bands;
	int code = 0;

	if (!line->layout || wide->count == 0)
		return 0;
	if (!bands_make(&bands, wide->count) || !bands_fill(&bands, line, wide))
		code = error_set(error, ERROR_MEMORY, "out of memory");
	else if (bands.sensors > 0)
		code = draw(line, run, wide, &bands, error);
	bands_release(&bands);
	return code;
}
