/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * fill_month CONFIG DAYS PERIOD_S END_S [SEED]: for tests of what people look at, DAYS days
 * of made-up shots up to END_S (seconds since 1970) on each line of the configuration, one
 * in PERIOD_S, into its ledger by the daemon's own writer.  The first line is good; the
 * second's sheets leave the oven hotter once somebody changed set points, two thirds through,
 * and run another recipe for two days; the third's tool grows uneven, its timer lets sheets
 * go, and its logger is away for seven hours.  No line runs on Sundays (UTC).  Outcomes of
 * all kinds, lots that change, and events are among it.
 */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"
#include "daemon/shot/shot.h"

enum {
	DAY_S = 86400,
	LINES_MOST = 16,
	FACE_SENSORS = 3, /* pyrometers over a face */
	AWAY_FIRST_S = 9 * 3600,
	AWAY_LAST_S = 16 * 3600
};

struct month {
	const struct settings *settings;
	struct ledger *ledger;
	int64_t start_s, end_s;
	int64_t numbers[LINES_MOST]; /* given to each line so far */
	int64_t fresh[LINES_MOST];   /* shots since the last stop */
	bool stands[LINES_MOST];
};

static unsigned short state[3] = {0, 0, 1};
static struct error error;

static void
need(bool ok, const char *what)
{
	if (ok)
		return;
	fprintf(stderr, "fill_month: %s: %s\n", what, error.text);
	exit(3);
}

static double
scattered(double mean, double sd)
{
	double radius = sqrt(-2 * log(1 - erand48(state)));

	return mean + sd * radius * cos(2 * acos(-1.0) * erand48(state));
}

static struct wall
wall_of(double s)
{
	return (struct wall){(int64_t)(s * 1e6) * 1000};
}

/* --- one shot ------------------------------------------------------------------------ */

/* `value` in the unit of the feature's name. */
static void
put(struct shot *shot, int feature, double value)
{
	shot->value[feature] = feature_to_si(feature, value);
	shot->absent[feature] = ABSENT_NOT;
}

static void
lack(struct shot *shot, int feature, enum absent absent)
{
	shot->value[feature] = NAN;
	shot->absent[feature] = absent;
}

/* What the pyrometers over one face read at heat end, around `mean`, and what is
 * made of it: their mean is returned. */
static double
read_face(struct shot *shot, int first, int whole, int spread, double mean)
{
	double sum = 0, low = INFINITY, high = -INFINITY;

	for (int i = 0; i < FACE_SENSORS; i++) {
		double value = scattered(mean + 1.2 * (i - 1), 0.3);
		put(shot, first + i, value);
		sum += value;
		low = fmin(low, value);
		high = fmax(high, value);
	}
	put(shot, whole, sum / FACE_SENSORS);
	put(shot, spread, high - low);
	return sum / FACE_SENSORS;
}

/* `share` of the month is over, 0 to 1. */
static void
heat(struct shot *shot, uint32_t line, double share)
{
	double hotter = line == 1 && share > 2.0 / 3 ? 4.5 : 0;
	double top = scattered(182.0 + hotter, line == 2 ? 2.2 : 1.2);
	double bottom = top - scattered(4, 0.6),
	       sag = scattered(150, line == 2 ? 9 : 4);

	put(shot, FEATURE_HEAT_S, sag + 4);
	put(shot, FEATURE_SAG_S, sag);
	put(shot, FEATURE_SOAK_WAIT_S, 4);
	top = read_face(shot, FEATURE_EXIT_TOP_FIRST, FEATURE_EXIT_TOP_C,
	    FEATURE_EXIT_SPREAD_TOP_DC, top);
	bottom = read_face(shot, FEATURE_EXIT_BOTTOM_FIRST, FEATURE_EXIT_BOTTOM_C,
	    FEATURE_EXIT_SPREAD_BOTTOM_DC, bottom);
	put(shot, FEATURE_EXIT_DIFFERENCE_DC, top - bottom);
	put(shot, FEATURE_CORE_HEAT_END_C, top - scattered(18, 0.8));
	put(shot, FEATURE_CORE_FORM_START_C, top - scattered(14, 0.8));
	put(shot, FEATURE_CORE_FORM_START_BAND_DC, 4.5);
	put(shot, FEATURE_ENERGY_KWH, scattered(3.4, 0.05));
	put(shot, FEATURE_SATURATION_MAX, 0.2 + 0.3 * erand48(state));
	put(shot, FEATURE_SATURATED_ZONES, line == 2 && share > 0.5 ? 1 : 0);
	put(shot, FEATURE_AMBIENT_C, scattered(22, 1));
	put(shot, FEATURE_HEAT_COVERAGE, 1);
	if (erand48(state) < 0.04) {
		for (int i = 0; i < FACE_SENSORS; i++)
			lack(shot, FEATURE_EXIT_BOTTOM_FIRST + i, ABSENT_SENSOR_FAULT);
		lack(shot, FEATURE_EXIT_BOTTOM_C, ABSENT_SENSOR_FAULT);
		lack(shot, FEATURE_EXIT_DIFFERENCE_DC, ABSENT_SENSOR_FAULT);
	}
}

static void
form(struct shot *shot, uint32_t line, double share, double period_s)
{
	double uneven = line == 2 ? 0.55 + 0.5 * share : 0.55;
	double cycle_s = period_s + scattered(0, line == 2 ? 12 : 4);

	put(shot, FEATURE_TRANSFER_S, scattered(11, 0.5));
	put(shot, FEATURE_FORM_S, scattered(60, 1));
	put(shot, FEATURE_TOOL_MEAN_C, scattered(71, 0.7));
	put(shot, FEATURE_TOOL_SPREAD_OF_MEANS_DC, fabs(scattered(uneven, 0.09)));
	put(shot, FEATURE_TOOL_SWING_DC, fabs(scattered(6, 0.5)));
	put(shot, FEATURE_WATER_SUPPLY_C, scattered(60, 0.3));
	put(shot, FEATURE_WATER_RISE_DC, scattered(1.8, 0.1));
	put(shot, FEATURE_HEAT_REMOVED_KWH, scattered(1.4, 0.05));
	put(shot, FEATURE_CYCLE_S, cycle_s);
	put(shot, FEATURE_CYCLE_FORMING_S, 60);
	put(shot, FEATURE_CYCLE_WAIT_SAG_S, 90);
	put(shot, FEATURE_CYCLE_WAIT_LINE_S, cycle_s - 161);
	put(shot, FEATURE_CYCLE_INDEX_S, 8);
	put(shot, FEATURE_CYCLE_CLOSING_S, 3);
}

static double
level(enum role role, size_t place)
{
	switch ((int)role) {
	case ROLE_ZONE_TOP:
	case ROLE_ZONE_BOTTOM:
		return 0.45 + 0.01 * (double)(place % 24);
	case ROLE_TOOL:
		return 71;
	case ROLE_WATER_FLOW:
		return 3e-4;
	default:
		return 60;
	}
}

static void
fill_channels(const struct settings *settings, struct shot *shot)
{
	for (size_t i = 0; i < shot->channel_count; i++) {
		struct shot_channel *to = &shot->channels[i];
		const struct channel_settings *from = &settings->channels[to->channel];
		double mean = level(from->role, i);
		to->absent = ABSENT_NOT;
		to->mean = scattered(mean, 0.01 * mean);
		to->min = 0.95 * to->mean;
		to->max = 1.05 * to->mean;
		to->sd = 0.02 * to->mean;
		to->last = 1.01 * to->mean;
		to->coverage = 0.99;
	}
}

/* The channels of the line alone, as the tracker has them. */
static struct shot *
make_shot(const struct settings *settings, uint32_t line)
{
	struct shot *shot = shot_new(settings->channel_count);

	need(shot != NULL, "no memory for a shot");
	shot->line = line;
	shot->channel_count = 0;
	for (size_t i = 0; i < settings->channel_count; i++)
		if (settings->devices[settings->channels[i].device].line == line)
			shot->channels[shot->channel_count++].channel = (uint32_t)i;
	return shot;
}

static enum shot_outcome
outcome_of(int64_t number, int64_t fresh, uint32_t line)
{
	if (fresh <= 3)
		return SHOT_STARTUP;
	if (number % 41 == 0)
		return SHOT_PARTIAL;
	if (number % 53 == 0)
		return SHOT_EMPTY;
	if (number % 97 == 0)
		return SHOT_SCRAPPED;
	return number % (line == 2 ? 11 : 67) == 0 ? SHOT_TIMER_RELEASE : SHOT_COMPLETE;
}

static const char *
reason_of(enum shot_outcome outcome)
{
	switch ((int)outcome) {
	case SHOT_PARTIAL:
		return "the logger did not see it being loaded";
	case SHOT_EMPTY:
		return "no sheet was in the frame";
	case SHOT_SCRAPPED:
		return "gone before it was formed";
	case SHOT_TIMER_RELEASE:
		return "let go by the timer";
	case SHOT_STARTUP:
		return "among the first after a stop";
	default:
		return "";
	}
}

static void
put_shot(struct month *month, uint32_t line, double at_s, double period_s)
{
	struct shot *shot = make_shot(month->settings, line);
	double share =
	    (at_s - (double)month->start_s) / (double)(month->end_s - month->start_s);
	bool other = line == 1 && share > 0.3 && share < 0.36, formed;

	shot->shot_no = ++month->numbers[line];
	shot->side = -1;
	shot->outcome = outcome_of(shot->shot_no, ++month->fresh[line], line);
	snprintf(shot->reason, sizeof shot->reason, "%s", reason_of(shot->outcome));
	formed = shot->outcome != SHOT_EMPTY && shot->outcome != SHOT_SCRAPPED;
	shot->recipe = other ? 31 : 12;
	shot->cycle_count = shot->shot_no + 40000;
	shot->uncertainty_s = 0.25;
	shot->heat_start_at = wall_of(at_s - 165);
	shot->heat_end_at = wall_of(at_s - 11);
	shot->closed_at = wall_of(at_s + 90);
	if (formed) {
		shot->form_start_at = wall_of(at_s);
		shot->form_end_at = wall_of(at_s + 60);
	}
	if (shot->outcome != SHOT_EMPTY)
		heat(shot, line, share);
	if (formed)
		form(shot, line, share, period_s);
	fill_channels(month->settings, shot);
	need(ledger_put_shot(month->ledger, month->settings, shot, &error) == 0,
	    "write a shot");
	shot_free(shot);
}

/* --- the month ------------------------------------------------------------------------ */

static void
tell(const struct month *month, const char *line, double at_s, const char *kind,
    const char *text)
{
	need(ledger_put_event(month->ledger, line, wall_of(at_s), kind, text, &error) ==
		 0,
	    "write an event");
}

static void
enter(const struct month *month, const char *line, enum context_key key,
    const char *value, int64_t from_s)
{
	const struct ledger_entry entry = {
	    line, key, value, wall_of((double)from_s), wall_of((double)from_s)};
	int64_t relabelled;

	need(ledger_put_context(month->ledger, &entry, &relabelled, &error) == 0,
	    "enter what holds");
}

static void
enter_all(const struct month *month)
{
	const struct settings *settings = month->settings;
	char lot[32];
	int count = 0;

	for (size_t line = 0; line < settings->line_count; line++) {
		const char *name = settings->lines[line].name;
		enter(month, name, CONTEXT_TOOL, "T-117", month->start_s - DAY_S);
		for (int64_t s = month->start_s - DAY_S; s < month->end_s;
		     s += 5 * DAY_S) {
			snprintf(lot, sizeof lot, "A-%04d", 401 + count++);
			enter(month, name, CONTEXT_LOT, lot, s);
		}
	}
}

/* Whether the line runs and is logged then; events as that changes. */
static bool
is_seen(struct month *month, uint32_t line, double at_s)
{
	const char *name = month->settings->lines[line].name;
	int64_t day = (int64_t)at_s / DAY_S, away = (month->start_s / DAY_S) + 17;
	double of_day = at_s - (double)(day * DAY_S);
	bool sunday = (day + 4) % 7 == 0; /* the first of 1970 was a Thursday */
	bool gone =
	    line == 2 && day == away && of_day >= AWAY_FIRST_S && of_day < AWAY_LAST_S;

	if ((sunday || gone) != month->stands[line]) {
		month->stands[line] = sunday || gone;
		if (line == 2 && day == away)
			tell(month, name,
			    (double)(day * DAY_S) + (gone ? AWAY_FIRST_S : AWAY_LAST_S),
			    gone ? "end" : "start",
			    gone ? "the logger ends" : "the logger begins");
		else
			tell(month, name, at_s, sunday ? "stop" : "resume",
			    sunday ? "the line stands" : "the line moves again");
		month->fresh[line] = 0;
	}
	return !month->stands[line];
}

static void
fill(struct month *month, double period_s)
{
	const struct settings *settings = month->settings;
	int64_t span_s = month->end_s - month->start_s;

	for (size_t line = 0; line < settings->line_count; line++)
		tell(month, settings->lines[line].name, (double)month->start_s, "start",
		    "the logger begins");
	for (int64_t turn = 0; (double)turn * period_s < (double)span_s; turn++) {
		for (uint32_t line = 0; line < settings->line_count; line++) {
			double at_s = (double)month->start_s +
			              period_s * ((double)turn + 0.1 * line);
			if (is_seen(month, line, at_s))
				put_shot(month, line, at_s, period_s);
		}
	}
	if (settings->line_count > 1)
		tell(month, settings->lines[1].name,
		    (double)month->start_s + (double)span_s * 2 / 3, "set_points",
		    "set points were changed under recipe 12: zone_top_7 from 52 to 58 "
		    "%");
	if (settings->line_count > 2)
		tell(month, settings->lines[2].name,
		    (double)(month->end_s - 23 * DAY_S / 2), "finding",
		    "zone_top_3 gives less than it did: likely, since shot 2210");
	tell(month, NULL, (double)(month->end_s - 5 * 3600), "device_silent",
	    "device 'water' does not answer: no answer within 1000 ms");
	tell(month, NULL, (double)(month->end_s - 4 * 3600), "device_answers",
	    "device 'water' answers again, after 1 h");
}

int
main(int count, char **words)
{
	static struct problems problems;
	struct month month = {0};
	int64_t setup;

	if (count < 5) {
		fputs("usage: fill_month CONFIG DAYS PERIOD_S END_S [SEED]\n", stderr);
		return 2;
	}
	double period_s = strtod(words[3], NULL);
	month.end_s = strtoll(words[4], NULL, 10);
	month.start_s = month.end_s - strtoll(words[2], NULL, 10) * DAY_S;
	state[0] = (unsigned short)(count > 5 ? strtol(words[5], NULL, 10) : 1);
	struct settings *settings = settings_load(words[1], &problems);
	if (settings == NULL || settings->line_count > LINES_MOST) {
		fprintf(stderr, "%s\n",
		    settings == NULL ? problems.list[0].text : "too many lines");
		return 2;
	}
	month.settings = settings;
	month.ledger = ledger_open(settings->ledger, NULL, &error);
	need(month.ledger != NULL, "open the ledger");
	need(ledger_put_setup(month.ledger, settings, wall_of((double)month.start_s),
		 &setup, &error) == 0,
	    "file the configuration");
	enter_all(&month);
	need(ledger_set_hasty(month.ledger, true, &error) == 0, "go fast");
	fill(&month, period_s);
	need(ledger_set_hasty(month.ledger, false, &error) == 0, "end going fast");
	ledger_close(month.ledger);
	settings_free(settings);
	return 0;
}
