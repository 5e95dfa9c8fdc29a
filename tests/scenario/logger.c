/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/scenario/logger.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "contrib/linesim/random.h"
#include "daemon/base/scan.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"

#define TIMEOUT_S 1.0
#define WALL_START_S 1772427600.0 /* 2026-03-02T05:00:00Z */
#define ODD_EVERY_S 700.0         /* mean time between oddities of the bus ... */
#define RESTART_EVERY_S 500.0     /* ... and between restarts */
#define RUN_ON_S 240.0            /* after the last sheet that counts */

enum { STREAM_LOGGER = 78 };

enum stage { STAGE_ASK, STAGE_SAMPLE, STAGE_ANSWER };

struct device {
	enum stage stage;
	double next_s;              /* of the stage */
	double phase_s, period_s;   /* of its schedule */
	double asked_s, answered_s; /* of this poll */
	double silent_until_s, missing_until_s, late_until_s;
	double values[PLAN_CHANNELS_MAX];
	uint32_t toggles[LINE_BITS];
	bool silent;
};

struct logger {
	const struct scenario *scenario;
	struct line *line;
	struct plan plan;
	struct judge *judge;
	struct random random;
	struct device devices[PLAN_POLLS];
	struct tracker *tracker;
	double now_s, ahead_s;
	double odd_at_s, restart_at_s,
	    down_s; /* down_s: no logger since; NAN: there is one */
	unsigned char saved[TRACKER_SAVED_MAX], kept[TRACKER_SAVED_MAX];
	size_t saved_bytes;
	bool fresh, resumed; /* no scan was taken yet; it said that it goes on */
	int64_t shot_no;
	struct wall closed_at;
	double good_asked_s; /* the last good poll of the controller; NAN: none */
	uint32_t toggles[LINE_BITS];
	double saved_asked_s; /* the same two as it saved last */
	uint32_t saved_toggles[LINE_BITS];
};

static double
draw(struct logger *logger, double from, double to)
{
	return from + (to - from) * random_uniform(&logger->random);
}

static double
draw_wait_s(struct logger *logger, double mean_s)
{
	return -mean_s * log(1 - random_uniform(&logger->random));
}

static int64_t
ns(double seconds)
{
	return (int64_t)(seconds * (double)CLOCK_SECOND_NS);
}

/* --- the tracker's side ------------------------------------------------------------- */

static void
take_shot(void *arg, struct shot *shot)
{
	struct logger *logger = arg;

	logger->shot_no = shot->shot_no;
	logger->closed_at = shot->closed_at;
	judge_shot(logger->judge, logger->now_s, shot);
}

static void
take_event(void *arg, struct wall at, const char *kind, const char *text)
{
	struct logger *logger = arg;

	(void)at;
	(void)text;
	if (strcmp(kind, "resume") == 0)
		logger->resumed = true;
}

static void
save(void *arg)
{
	struct logger *logger = arg;

	logger->saved_bytes =
	    tracker_save(logger->tracker, logger->saved, sizeof logger->saved);
	assert(logger->saved_bytes > 0);
	logger->saved_asked_s = logger->good_asked_s;
	memcpy(logger->saved_toggles, logger->toggles, sizeof logger->toggles);
}

static void
start(struct logger *logger)
{
	struct tracker_sink sink = {.shot = take_shot,
	    .event = take_event,
	    .moved = logger->scenario->restart ? save : NULL,
	    .arg = logger};
	struct tracker_start begin = {.last_shot_no = logger->shot_no,
	    .last_closed_at = logger->closed_at,
	    .saved = logger->saved_bytes > 0 ? logger->kept : NULL,
	    .saved_bytes = logger->saved_bytes,
	    .no_traces = true};

	memcpy(logger->kept, logger->saved, sizeof logger->kept);
	logger->tracker = tracker_new(logger->plan.settings, 0, begin, sink);
	assert(logger->tracker != NULL);
	logger->fresh = true;
	logger->resumed = false;
}

static void
stop(struct logger *logger)
{
	if (random_uniform(&logger->random) < 0.5) /* asked to, not killed */
		tracker_finish(logger->tracker);
	tracker_free(logger->tracker);
	logger->tracker = NULL;
	logger->down_s = logger->now_s;
	/* What it saw since it saved last is as if it had not. */
	logger->good_asked_s = logger->saved_asked_s;
	memcpy(logger->toggles, logger->saved_toggles, sizeof logger->toggles);
}

/* --- polls -------------------------------------------------------------------------- */

/* On the device's own schedule, a little late. */
static void
plan_poll(struct logger *logger, struct device *device, double after_s)
{
	double polls = floor((after_s - device->phase_s) / device->period_s) + 1;

	device->stage = STAGE_ASK;
	if (isinf(device->period_s)) { /* there is no such poll */
		device->next_s = INFINITY;
		return;
	}
	device->next_s =
	    device->phase_s + polls * device->period_s + draw(logger, 0, 0.02);
}

static void
ask(struct logger *logger, struct device *device)
{
	bool late = device->next_s < device->late_until_s;

	if (device->next_s < device->missing_until_s) {
		plan_poll(logger, device, device->next_s);
		return;
	}
	device->asked_s = device->next_s;
	device->silent = device->next_s < device->silent_until_s;
	device->answered_s = device->asked_s + (device->silent ? TIMEOUT_S
						   : late      ? draw(logger, 0.2, 0.95)
							  : draw(logger, 0.003, 0.06));
	device->stage = STAGE_SAMPLE;
	device->next_s = draw(logger, device->asked_s, device->answered_s);
}

static double
read_value(const struct logger *logger, const struct line_view *view,
    const struct plan_channel *channel)
{
	switch (channel->source) {
	case PLAN_BIT:
		return view->bit[channel->which];
	case PLAN_RECIPE:
		return PLAN_RECIPE_NUMBER;
	case PLAN_COUNT:
		return view->cycle_count;
	case PLAN_SURFACE:
		return view->surface_c[channel->which];
	case PLAN_ZONE:
		return view->zone[channel->which];
	case PLAN_TOOL:
		if (view->tool_c[channel->which] ==
		    line_tool_mark_c(logger->scenario->swap))
			return line_tool_mark_c(logger->scenario->swap - 1);
		return view->tool_c[channel->which];
	case PLAN_WATER:
		return 20;
	}
	return NAN;
}

/* Whether a bit other than the fluttering eye's went there and back since the last good
 * poll. */
static bool
missed_some(const struct logger *logger, const struct device *device)
{
	for (int bit = 0; bit < LINE_BITS; bit++)
		if (bit != LINE_SAG_EYE &&
		    device->toggles[bit] - logger->toggles[bit] > 1)
			return true;
	return false;
}

/* The controller has answered. */
static void
note_poll(struct logger *logger, const struct device *device)
{
	if (!isnan(logger->good_asked_s))
		judge_poll(logger->judge, logger->good_asked_s, device->answered_s,
		    missed_some(logger, device));
	memcpy(logger->toggles, device->toggles, sizeof logger->toggles);
	logger->good_asked_s = device->asked_s;
}

static void
sample(struct logger *logger, int place)
{
	struct device *device = &logger->devices[place];
	const struct line_view *view;

	line_run(logger->line, logger->now_s);
	view = line_view(logger->line);
	for (uint32_t i = 0; i < logger->plan.count[place]; i++)
		device->values[i] =
		    read_value(logger, view, &logger->plan.channels[place][i]);
	memcpy(device->toggles, view->toggles, sizeof device->toggles);
	device->stage = STAGE_ANSWER;
	device->next_s = device->answered_s;
}

static void
answer(struct logger *logger, int place)
{
	struct device *device = &logger->devices[place];
	uint32_t count = logger->plan.count[place];
	union {
		struct scan scan;
		char room[sizeof(struct scan) +
			  PLAN_CHANNELS_MAX * sizeof(struct reading)];
	} it = {.scan = {.device = logger->plan.device[place],
		    .sent = {ns(device->asked_s)},
		    .at = {ns(device->answered_s)},
		    .first = logger->plan.first[place],
		    .count = count}};

	it.scan.wall.ns =
	    ns(WALL_START_S) + ns(device->answered_s) + ns(logger->ahead_s);
	for (uint32_t i = 0; i < count; i++)
		it.scan.readings[i] =
		    device->silent
			? (struct reading){NAN, QUALITY_COMM_FAULT, 0}
			: (struct reading){device->values[i], QUALITY_GOOD, 0};
	if (place == PLAN_CONTROLLER && !device->silent)
		note_poll(logger, device);
	tracker_scan(logger->tracker, &it.scan);
	if (logger->fresh && place == PLAN_CONTROLLER && !device->silent) {
		judge_start(
		    logger->judge, logger->down_s, logger->now_s, logger->resumed);
		logger->down_s = NAN;
		logger->fresh = false;
	}
	plan_poll(logger, device, device->answered_s);
}

/* --- oddities ------------------------------------------------------------------------- */

static void
be_odd(struct logger *logger)
{
	enum oddity oddity = ODDITY_SILENT_BITS + (int)draw(logger, 0, 5);
	struct device *plc = &logger->devices[PLAN_CONTROLLER];
	bool brief = random_uniform(&logger->random) < 0.5;
	bool lasting = random_uniform(&logger->random) < 0.2;
	double for_s = brief     ? draw(logger, 0.6, 5)
	               : lasting ? draw(logger, 50, 300)
	                         : draw(logger, 5, 50);
	double until_s = logger->now_s + for_s;

	switch ((int)oddity) {
	case ODDITY_SILENT_BITS:
		plc->silent_until_s = until_s;
		break;
	case ODDITY_SILENT_MEASURES:
		logger->devices[PLAN_MEASURES].silent_until_s =
		    logger->devices[PLAN_TOOLS].silent_until_s = until_s;
		break;
	case ODDITY_MISSED_POLLS:
		plc->missing_until_s = until_s;
		break;
	case ODDITY_LATE:
		for (int i = 0; i < PLAN_POLLS; i++)
			logger->devices[i].late_until_s = until_s;
		break;
	case ODDITY_CLOCK:
		logger->ahead_s += brief ? 3600 : -3600;
		judge_clock(logger->judge, logger->now_s, logger->ahead_s);
		break;
	}
	judge_hazard(logger->judge, oddity, logger->now_s, until_s + 3);
	logger->odd_at_s = until_s + draw_wait_s(logger, ODD_EVERY_S);
}

static void
begin_again(struct logger *logger)
{
	bool brief = random_uniform(&logger->random) < 0.5;
	double pause_s = brief ? draw(logger, 0.5, 12) : draw(logger, 12, 250);

	stop(logger);
	logger->now_s += pause_s;
	line_run(logger->line, logger->now_s);
	for (int i = 0; i < PLAN_POLLS; i++)
		plan_poll(logger, &logger->devices[i], logger->now_s);
	start(logger);
	logger->restart_at_s = logger->now_s + draw_wait_s(logger, RESTART_EVERY_S);
}

/* --- a whole scenario ------------------------------------------------------------------ */

static void
set_up(struct logger *logger)
{
	const struct scenario *scenario = logger->scenario;
	double measures_s;
	size_t count = 0;

	random_init(&logger->random, scenario->seed, STREAM_LOGGER);
	measures_s = draw(logger, 1, 2);
	logger->line = line_new(scenario->kind, scenario->seed, scenario->odds);
	plan_init(&logger->plan, scenario->kind, line_rules(logger->line), measures_s,
	    scenario->one_device);
	/* In mid-cycle, once the frames of the very start have gone round. */
	while (count < 4) {
		logger->now_s += 10;
		line_run(logger->line, logger->now_s);
		line_sheets(logger->line, &count);
	}
	logger->now_s += draw(logger, 0, 150);
	line_run(logger->line, logger->now_s);
	for (int i = 0; i < PLAN_POLLS; i++) {
		logger->devices[i].period_s =
		    logger->plan.count[i] > 0 ? logger->plan.period_s[i] : INFINITY;
		logger->devices[i].phase_s =
		    logger->plan.count[i] > 0 ? draw(logger, 0, 1) : 0;
		plan_poll(logger, &logger->devices[i], logger->now_s);
	}
	logger->good_asked_s = logger->saved_asked_s = NAN;
	logger->odd_at_s =
	    scenario->bus ? logger->now_s + draw_wait_s(logger, ODD_EVERY_S) : INFINITY;
	logger->restart_at_s =
	    scenario->restart ? logger->now_s + draw_wait_s(logger, RESTART_EVERY_S)
			      : INFINITY;
}

static void
step(struct logger *logger)
{
	int place = 0;

	for (int i = 1; i < PLAN_POLLS; i++)
		if (logger->devices[i].next_s < logger->devices[place].next_s)
			place = i;
	logger->now_s = logger->devices[place].next_s;
	switch (logger->devices[place].stage) {
	case STAGE_ASK:
		ask(logger, &logger->devices[place]);
		break;
	case STAGE_SAMPLE:
		sample(logger, place);
		break;
	case STAGE_ANSWER:
		answer(logger, place);
		break;
	}
	if (logger->now_s >= logger->odd_at_s)
		be_odd(logger);
	if (logger->now_s >= logger->restart_at_s && !logger->fresh)
		begin_again(logger);
}

void
scenario_play(const struct scenario *scenario, struct verdicts *verdicts)
{
	struct logger *logger = calloc(1, sizeof *logger);
	double end_s = INFINITY;
	char name[80];
	size_t count;

	assert(logger != NULL);
	logger->scenario = scenario;
	set_up(logger);
	snprintf(name, sizeof name, "%s, seed %llu", scenario->kind,
	    (unsigned long long)scenario->seed);
	logger->judge = judge_new(logger->line, &logger->plan, name, scenario->tell);
	judge_clock(logger->judge, 0, 0);
	start(logger);
	while (logger->now_s < end_s) {
		step(logger);
		line_sheets(logger->line, &count);
		if (isinf(end_s) && count >= (size_t)scenario->sheets + 4)
			end_s = logger->now_s + RUN_ON_S;
	}
	tracker_finish(logger->tracker);
	tracker_free(logger->tracker);
	judge_end(logger->judge, logger->good_asked_s, verdicts);
	judge_free(logger->judge);
	plan_release(&logger->plan);
	line_free(logger->line);
	free(logger);
}
