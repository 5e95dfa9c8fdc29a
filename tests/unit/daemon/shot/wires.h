/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Plays machines of every kind to a duty, with wires that may be wrong.  Machines
 * invented; their times are common practice, no source.
 */
#ifndef TESTS_UNIT_DAEMON_SHOT_WIRES_H
#define TESTS_UNIT_DAEMON_SHOT_WIRES_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/duty.h"

enum { BITS_MAX = 16, CYCLES = 14, STEP_MS = 500 };

/* --- a line and its wires --- */

struct line_part {
	const char *name;
	enum role role;
	int side;
};

struct kind {
	const char *name;
	enum machine machine;
	int sides, bit_count;
	struct line_part bits[BITS_MAX];
};

static const struct kind rotary = {"rotary", MACHINE_ROTARY, 1, 7,
    {{"rotating", ROLE_ROTATING, -1}, {"form_closed", ROLE_FORM_CLOSED, -1},
	{"sag_eye", ROLE_SAG_EYE, -1}, {"sheet_at_load", ROLE_SHEET_AT_LOAD, -1},
	{"sheet_at_form", ROLE_SHEET_AT_FORM, -1}, {"automatic", ROLE_AUTOMATIC, -1},
	{"fault", ROLE_FAULT, -1}}};
static const struct kind counted = {"counted", MACHINE_ROTARY, 1, 5,
    {{"form_closed", ROLE_FORM_CLOSED, -1}, {"sag_eye", ROLE_SAG_EYE, -1},
	{"automatic", ROLE_AUTOMATIC, -1}, {"fault", ROLE_FAULT, -1},
	{"cycle_count", ROLE_CYCLE_COUNT, -1}}};
static const struct kind shuttle = {"shuttle", MACHINE_SHUTTLE, 1, 8,
    {{"oven_in", ROLE_OVEN_IN, -1}, {"clamp_closed", ROLE_CLAMP_CLOSED, -1},
	{"form_closed", ROLE_FORM_CLOSED, -1},
	{"sheet_in_frame", ROLE_SHEET_IN_FRAME, -1}, {"sag_eye", ROLE_SAG_EYE, -1},
	{"automatic", ROLE_AUTOMATIC, -1}, {"fault", ROLE_FAULT, -1},
	{"cycle_count", ROLE_CYCLE_COUNT, -1}}};
static const struct kind single = {"single", MACHINE_SINGLE, 1, 6,
    {{"oven_in", ROLE_OVEN_IN, -1}, {"clamp_closed", ROLE_CLAMP_CLOSED, -1},
	{"form_closed", ROLE_FORM_CLOSED, -1}, {"sag_eye", ROLE_SAG_EYE, -1},
	{"automatic", ROLE_AUTOMATIC, -1}, {"fault", ROLE_FAULT, -1}}};
static const struct kind two_sides = {"two sides", MACHINE_SHUTTLE, 2, 11,
    {{"oven_in_left", ROLE_OVEN_IN, 0}, {"clamp_left", ROLE_CLAMP_CLOSED, 0},
	{"form_left", ROLE_FORM_CLOSED, 0},
	{"sheet_in_frame_left", ROLE_SHEET_IN_FRAME, 0},
	{"oven_in_right", ROLE_OVEN_IN, 1}, {"clamp_right", ROLE_CLAMP_CLOSED, 1},
	{"form_right", ROLE_FORM_CLOSED, 1},
	{"sheet_in_frame_right", ROLE_SHEET_IN_FRAME, 1}, {"sag_eye", ROLE_SAG_EYE, -1},
	{"automatic", ROLE_AUTOMATIC, -1}, {"fault", ROLE_FAULT, -1}}};
static const struct kind one_form = {"one form station", MACHINE_SHUTTLE, 2, 8,
    {{"oven_in_left", ROLE_OVEN_IN, 0}, {"clamp_left", ROLE_CLAMP_CLOSED, 0},
	{"oven_in_right", ROLE_OVEN_IN, 1}, {"clamp_right", ROLE_CLAMP_CLOSED, 1},
	{"form_closed", ROLE_FORM_CLOSED, -1}, {"sag_eye", ROLE_SAG_EYE, -1},
	{"automatic", ROLE_AUTOMATIC, -1}, {"fault", ROLE_FAULT, -1}}};
static const struct kind *const kinds[] = {
    &rotary, &counted, &shuttle, &single, &two_sides, &one_form};
enum { KINDS = sizeof(kinds) / sizeof(kinds[0]) };

struct plant {
	const struct kind *kind;
	struct settings settings;
	struct line_settings line;
	struct device_settings device;
	struct channel_settings channels[BITS_MAX];
	struct duty *duty;
	int64_t now_ms;
	bool truth[ROLE_COUNT][SETTINGS_SIDES]; /* what is so, by role and side */
	int64_t count, oven_free_ms;
	int source[BITS_MAX]; /* whose truth a bit shows */
	bool flip[BITS_MAX], stuck[BITS_MAX];
};

static inline void
plant_init(struct plant *plant, const struct kind *kind)
{
	memset(plant, 0, sizeof(*plant));
	plant->kind = kind;
	plant->line.machine = kind->machine;
	plant->line.side_count = kind->sides;
	plant->line.oven_count = 1;
	plant->line.heat_min_s = 30.0;
	plant->device.period_s = STEP_MS / 1000.0;
	plant->device.channel_count = (uint32_t)kind->bit_count;
	for (int i = 0; i < kind->bit_count; i++) {
		struct channel_settings *channel = &plant->channels[i];

		snprintf(
		    channel->name, sizeof(channel->name), "%s", kind->bits[i].name);
		channel->role = kind->bits[i].role;
		channel->side = kind->bits[i].side;
		channel->on_si = channel->off_si = NAN;
		channel->debounce_s = channel->role == ROLE_SAG_EYE ? 0.4 : 0.0;
		plant->source[i] = i;
	}
	plant->settings.lines = &plant->line;
	plant->settings.line_count = 1;
	plant->settings.devices = &plant->device;
	plant->settings.device_count = 1;
	plant->settings.channels = plant->channels;
	plant->settings.channel_count = (size_t)kind->bit_count;
	assert_true(groups_make(&plant->device, plant->channels));
	plant->duty = duty_new(&plant->settings, 0);
	assert_non_null(plant->duty);
	plant->truth[ROLE_AUTOMATIC][0] = plant->truth[ROLE_AUTOMATIC][1] = true;
}

static inline void
plant_release(struct plant *plant)
{
	duty_free(plant->duty);
}

static inline double
shown(const struct plant *plant, int bit)
{
	const struct line_part *part = &plant->kind->bits[plant->source[bit]];

	if (plant->kind->bits[bit].role == ROLE_CYCLE_COUNT)
		return (double)plant->count;
	if (plant->stuck[bit])
		return plant->flip[bit];
	if (part->role == ROLE_FORM_CLOSED && part->side < 0)
		return (plant->truth[part->role][0] || plant->truth[part->role][1]) !=
		       plant->flip[bit];
	return plant->truth[part->role][part->side < 0 ? 0 : part->side] !=
	       plant->flip[bit];
}

/* One poll; `absent` in place of values. */
static inline void
poll_as(struct plant *plant, enum quality quality)
{
	struct scan *scan = calloc(1, scan_bytes((uint32_t)plant->kind->bit_count));

	plant->now_ms += STEP_MS;
	scan->sent.ns = scan->at.ns = plant->now_ms * 1000000;
	scan->count = (uint32_t)plant->kind->bit_count;
	for (int i = 0; i < plant->kind->bit_count; i++) {
		scan->readings[i].quality = quality;
		scan->readings[i].value =
		    quality == QUALITY_GOOD ? shown(plant, i) : NAN;
	}
	duty_scan(plant->duty, scan);
	free(scan);
}

static inline void
run(struct plant *plant, double seconds)
{
	for (int64_t end = plant->now_ms + (int64_t)(seconds * 1000.0);
	     plant->now_ms < end;)
		poll_as(plant, QUALITY_GOOD);
}

/* --- how machines go --- */

static inline double
between(double least, double most)
{
	return least + (most - least) * rand() / RAND_MAX;
}

static inline bool
one_in(int n)
{
	return rand() % n == 0;
}

struct rhythm {
	double move_s, close_s, form_s, sag_s, wait_s, load_s;
	bool part_seen; /* the eye at the load station sees the part that comes round */
	bool odd;       /* now and then something is not as usual */
};

static inline struct rhythm
any_rhythm(bool odd)
{
	return (struct rhythm){.move_s = between(4, 14),
	    .close_s = between(2, 6),
	    .form_s = between(25, 240),
	    .sag_s = between(45, 400),
	    .wait_s = one_in(2) ? 0.5 : between(2, 60), /* at once, or held up */
	    .load_s = between(25, 90),
	    .part_seen = one_in(2),
	    .odd = odd};
}

/* A stop, a fault, a while in manual, a silence. */
static inline void
trouble(struct plant *plant)
{
	switch (rand() % 4) {
	case 0:
		run(plant, between(60, 1800));
		break;
	case 1:
		plant->truth[ROLE_FAULT][0] = true;
		run(plant, between(20, 300));
		plant->truth[ROLE_FAULT][0] = false;
		break;
	case 2:
		plant->truth[ROLE_AUTOMATIC][0] = false;
		run(plant, between(20, 300));
		plant->truth[ROLE_AUTOMATIC][0] = true;
		break;
	default:
		for (int i = 0; i < 60; i++)
			poll_as(plant, QUALITY_COMM_FAULT);
		break;
	}
}

/* One step and the stay after it; `formed`: a sheet comes to the form station. */
static inline void
ring_cycle(struct plant *plant, const struct rhythm *r, bool formed)
{
	double form_s = formed ? r->form_s * between(0.98, 1.02) : 0.0;
	double sag_s = r->sag_s * between(0.9, 1.1);
	double load_s = r->load_s * between(0.5, 2.0);
	double end_s =
	    fmax(fmax(r->close_s + form_s + 2.0, sag_s + r->wait_s), load_s + 2.0);
	bool(*truth)[SETTINGS_SIDES] = plant->truth;
	bool timer = r->odd && one_in(10);

	truth[ROLE_ROTATING][0] = true;
	run(plant, 1.0);
	truth[ROLE_SAG_EYE][0] = truth[ROLE_SHEET_AT_FORM][0] = false;
	run(plant, r->move_s - 1.0);
	truth[ROLE_ROTATING][0] = false;
	truth[ROLE_SHEET_AT_FORM][0] = formed;
	truth[ROLE_SHEET_AT_LOAD][0] = r->part_seen && formed;
	plant->count++;
	for (double t = 0.0; t < end_s; t += 0.5) {
		truth[ROLE_FORM_CLOSED][0] =
		    formed && t >= r->close_s && t < r->close_s + form_s;
		truth[ROLE_SAG_EYE][0] = !timer && t >= sag_s;
		if (t >= 0.3 * load_s)
			truth[ROLE_SHEET_AT_LOAD][0] = t >= load_s;
		run(plant, 0.5);
	}
	if (r->odd && one_in(12))
		trouble(plant);
}

/* A frame of its own: what its sheet does next, and when. */
struct carriage {
	int side, phase;
	double left_s;
};

/* The next phase of a carriage, unless it must wait for the oven. */
static inline void
carriage_next(struct plant *plant, const struct rhythm *r, struct carriage *c)
{
	bool(*truth)[SETTINGS_SIDES] = plant->truth;
	bool stays = plant->kind->machine == MACHINE_SINGLE;
	int s = c->side;

	switch (c->phase++) {
	case 0: /* a sheet is laid in */
		truth[ROLE_SHEET_IN_FRAME][s] = true;
		c->left_s = between(2, 5);
		break;
	case 1:
		truth[ROLE_CLAMP_CLOSED][s] = true;
		c->left_s = between(2, 8);
		break;
	case 2:
		if (truth[ROLE_OVEN_IN][0] || truth[ROLE_OVEN_IN][1] ||
		    plant->now_ms < plant->oven_free_ms) {
			c->phase--;
			break;
		}
		truth[ROLE_OVEN_IN][s] = true;
		c->left_s = r->sag_s * between(0.9, 1.1);
		break;
	case 3:
		truth[ROLE_SAG_EYE][0] = !r->odd || !one_in(10);
		c->left_s = r->wait_s * between(0.9, 1.1);
		break;
	case 4:
		truth[ROLE_OVEN_IN][s] = false;
		plant->oven_free_ms = plant->now_ms + (int64_t)(1000.0 * r->move_s);
		if (!stays) /* on a single station the eye goes on seeing the sag */
			truth[ROLE_SAG_EYE][0] = false;
		c->left_s = r->move_s;
		break;
	case 5:
		truth[ROLE_FORM_CLOSED][s] = !r->odd || !one_in(10);
		plant->count++;
		if (stays)
			truth[ROLE_SAG_EYE][0] = false;
		c->left_s = r->form_s * between(0.98, 1.02);
		break;
	case 6:
		truth[ROLE_FORM_CLOSED][s] = false;
		c->left_s = between(2, 5);
		break;
	case 7:
		truth[ROLE_CLAMP_CLOSED][s] = false;
		c->left_s = between(2, 6);
		break;
	default:
		truth[ROLE_SHEET_IN_FRAME][s] = false;
		c->left_s = r->load_s * between(0.5, 2.0);
		c->phase = 0;
		break;
	}
}

/* The first `working` sides go. */
static inline void
carriages_run(struct plant *plant, const struct rhythm *r, int working)
{
	struct carriage carriages[SETTINGS_SIDES] = {{0, 0, 1.0}, {1, 0, 30.0}};
	int done = 0;

	while (done < CYCLES) {
		for (int s = 0; s < working; s++) {
			struct carriage *c = &carriages[s];
			int before = c->phase;

			c->left_s -= 0.5;
			if (c->left_s > 0.0)
				continue;
			carriage_next(plant, r, c);
			done += s == 0 && before > c->phase;
			if (r->odd && before != c->phase && one_in(80))
				trouble(plant);
		}
		run(plant, 0.5);
	}
}

static inline void
plant_run(struct plant *plant, const struct rhythm *r)
{
	if (plant->kind->machine != MACHINE_ROTARY)
		carriages_run(plant, r, plant->kind->sides);
	else
		for (int i = 0; i < CYCLES; i++)
			ring_cycle(plant, r, i > 1 && !(r->odd && one_in(8)));
}

#endif
